"""Log records become results. Pure: no file, no clock, no instrument."""
