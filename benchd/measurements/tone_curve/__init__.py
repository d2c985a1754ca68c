"""An HDR signal's tone curve, and where the screen leaves it."""
