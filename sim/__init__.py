"""The simulated bench. benchd never imports it; a bench profile starts it as a companion process."""
