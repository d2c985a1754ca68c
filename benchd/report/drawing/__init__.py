"""Draws the axes of a plot: laid out once as shapes in points, written from them as SVG and as pixels."""
