"""Commands that show what was measured."""
