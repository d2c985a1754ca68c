"""From records to step data: what was read at each step, offsets, places, conditions."""
