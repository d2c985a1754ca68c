"""Light over time: windows that are read from the moment they appear."""
