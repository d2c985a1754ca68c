"""Comparisons, claims, and the question of the panel."""
