"""What several commands share."""

from __future__ import annotations

import getpass


def user() -> str:
    """The name of the person at the machine, as the system knows it."""
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return "unknown"
