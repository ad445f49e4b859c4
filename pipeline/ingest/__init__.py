"""From files and forms to a published build."""
