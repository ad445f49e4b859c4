"""Weight plans made on a screen, decisions about them, starts that are drawn."""
