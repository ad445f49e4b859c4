"""In which forms and on which paper a page leaves the program."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Handout:
    """The forms of a page that is handed out, and its paper: 'letter' or 'a4'."""

    forms: Sequence[str] = ("pdf",)
    paper: str = "letter"


PRINTED = Handout()
