"""Profiles: models of bench, dialect, stage, target, space and claims, and the store of profiles."""
