"""Results with all that they rest on, as a folder that anyone can compute again."""
