"""What happens on the bench, and what is kept of it."""
