"""What the world answers: light meters and the movers that place them."""
