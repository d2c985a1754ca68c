"""Results become text, JSON and CSV."""
