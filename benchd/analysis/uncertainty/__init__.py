"""Quantities with their sources, and their intervals."""
