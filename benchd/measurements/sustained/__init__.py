"""What is left of a bright window after minutes."""
