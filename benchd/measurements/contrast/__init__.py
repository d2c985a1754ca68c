"""White over black: full screens one after the other, or a checkerboard."""
