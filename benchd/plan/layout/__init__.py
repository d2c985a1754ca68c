"""What blocks lay their steps with: codes, windows, places, and their order."""
