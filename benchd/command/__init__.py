"""One file for each command: call the rooms, print, return the exit code."""
