"""Luminance and chromaticity over a grid of places."""
