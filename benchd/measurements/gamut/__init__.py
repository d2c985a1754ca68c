"""The gamut of a screen: full-drive colours against colour spaces, additivity, volume."""
