"""Drift: how the light of a reference patch changed during a run, and its compensation."""
