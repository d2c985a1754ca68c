"""What is to be seen, and the window that shows it."""
