"""Readings until a precision is reached."""
