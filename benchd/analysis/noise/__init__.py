"""The noise of readings, estimated from the log itself, with its serial correlation."""
