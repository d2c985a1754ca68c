"""Results and progress as text for a terminal."""
