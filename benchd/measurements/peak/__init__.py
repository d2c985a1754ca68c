"""Peak luminance of a bright window over its size."""
