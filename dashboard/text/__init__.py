"""Words of the screens: numbers as text, terms, cautions, empty states."""
