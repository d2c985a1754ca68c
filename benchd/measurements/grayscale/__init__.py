"""Grey steps with colour and gamma, against the target's curve and white."""
