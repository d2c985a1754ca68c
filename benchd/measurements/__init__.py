"""One folder a measurement; `registry` finds them by kind."""
