"""What is stated or found of the meter and the bench, as sources of uncertainty."""
