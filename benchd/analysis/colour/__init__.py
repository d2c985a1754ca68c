"""Colour formulae and targets on arrays: no log, no block."""
