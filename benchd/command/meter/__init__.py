"""Commands about the bench and its meter."""
