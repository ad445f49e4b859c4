"""The words of a case in reading order: screen and sheet lay out these very strings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseLine:
    """One sentence with its number and interval, and where it came from; `name` is the measure it is about, or ''."""

    text: str
    source: str = ""
    name: str = ""
    reason: str = ""  # why there is no number, as the warehouse has it; it stands in the text too

    @property
    def sentence(self) -> str:
        """The whole sentence."""
        return f"{self.name}: {self.text}" if self.name else self.text


@dataclass(frozen=True, slots=True, kw_only=True)
class CoachWords:
    """What a coach wrote on a part, and who and when."""

    text: str
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CasePart:
    """One heading: its sentences, its caution, and the coach's own words beside them; `key` '' takes no words."""

    key: str
    head: str
    lines: tuple[CaseLine, ...]
    caution: str = ""
    words: CoachWords | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CasePage:
    """The whole page."""

    banner: str
    program: str
    kind: str
    name: str
    facts: str
    parts: tuple[CasePart, ...]
    cares: tuple[str, ...]
    provenance: str
    made_on: date
    build_id: str


def page_texts(page: CasePage) -> Iterator[str]:
    """Every string of the page in reading order."""
    yield from (t for t in (page.banner, page.program, page.kind, page.name, page.facts) if t)
    for part in page.parts:
        yield part.head
        for line in part.lines:
            yield from (t for t in (line.name, line.text, line.source) if t)
        yield from (t for t in (part.caution,) if t)
        if part.words is not None:
            yield from (part.words.text, part.words.by)
    yield from page.cares
    yield page.provenance
