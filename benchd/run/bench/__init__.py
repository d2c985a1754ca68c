"""The bench of a run: opened, held against the plan, and what is known of it from before."""
