"""Black beside bright: dimming zones and haloing."""
