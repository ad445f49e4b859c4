"""In which forms and on which paper a page leaves the program."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Handout:
    """The forms of a page that is handed out, its paper ('letter' or 'a4'), and for whom, which is printed nowhere."""

    forms: Sequence[str] = ("pdf",)
    paper: str = "letter"
    recipient: str = ""


PRINTED = Handout()
