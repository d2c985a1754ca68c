"""The doors of the service: HTTP over a Unix socket or loopback."""
