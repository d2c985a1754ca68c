"""A free list of patches: luminance and chromaticity of each, nothing judged."""
