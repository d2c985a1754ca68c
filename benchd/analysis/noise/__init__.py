"""How readings scatter: from the log itself, with what neighbouring readings have in common."""
