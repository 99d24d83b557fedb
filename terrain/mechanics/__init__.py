"""How: published relations of wheel, soil and slope. Arrays and numbers only."""
