"""Commands that talk to the service, and the service itself."""
