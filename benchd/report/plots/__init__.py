"""Plots of results."""
