"""The roster of a camp with its test days, to be printed and ticked off."""
