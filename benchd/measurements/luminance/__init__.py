"""Full-screen white and black at the centre."""
