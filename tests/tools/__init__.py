"""Commands for whoever works on the code: screenshots, page changes, load, links for the tools."""
