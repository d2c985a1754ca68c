"""The service: a bench with a queue of jobs, a socket to talk to it, and a small page."""
