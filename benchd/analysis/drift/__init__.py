"""What a reference patch tells of the light during a run, and its compensation."""
