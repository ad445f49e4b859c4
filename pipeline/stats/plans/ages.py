"""The age from which an athlete decides for themselves."""

from __future__ import annotations

from typing import Final

ADULT: Final = 18.0
