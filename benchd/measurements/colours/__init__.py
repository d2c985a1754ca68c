"""Colours against what they should be: CIEDE2000 and its parts."""
