"""Where an athlete stands among peers of similar age, height and mass."""
