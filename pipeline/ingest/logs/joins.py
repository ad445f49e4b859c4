"""Which athlete ids a steward joined into another, from the decisions log.

A join is a line of the log as any other and can be taken back (`reopen`). Files and logs keep the id under which a row
came: whoever reads them asks here whose it is now.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final, Protocol, TypeVar

from latewood.pipeline.errors import DecisionError
from latewood.pipeline.ingest.logs.decisions import Decision, read
from latewood.pipeline.ingest.logs.lines import whole_bytes

JOIN: Final = "join"
STAGE: Final = "athlete"
LOG: Final = "decisions.jsonl"


class _OfAthlete(Protocol):
    @property
    def athlete_id(self) -> str: ...


Line = TypeVar("Line", bound=_OfAthlete)


@dataclass(frozen=True, slots=True, kw_only=True)
class Join:
    """One id read as another. `landed` is how many places the landing folder had given when they were joined."""

    joined_id: str
    into: str
    landed: int
    at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Joins:
    """The joins in force, by the id that was joined."""

    of: Mapping[str, Join]

    def head(self, athlete_id: str) -> str:
        """The id under which everything of an athlete is read now."""
        passed: list[str] = []
        while athlete_id in self.of:
            if athlete_id in passed:
                raise DecisionError(
                    f"{LOG}: the joins of {', '.join(passed)} go in a circle; restore the file from a backup"
                )
            passed.append(athlete_id)
            athlete_id = self.of[athlete_id].into
        return athlete_id

    def members(self, athlete_id: str) -> tuple[str, ...]:
        """Every id that is read as the same athlete's, the one that is kept first."""
        head = self.head(athlete_id)
        return (head, *(one for one in self.of if self.head(one) == head))

    def heads(self) -> dict[str, str]:
        """Each joined id with the one under which it is read."""
        return {one: self.head(one) for one in self.of}

    def head_then(self, athlete_id: str, landed: int) -> str:
        """The id under which an athlete was read when a file of this place in landing came."""
        while athlete_id in self.of and self.of[athlete_id].landed <= landed:
            athlete_id = self.of[athlete_id].into
        return athlete_id


NONE: Final = Joins(of={})


def joins_in(decisions: Iterable[Decision]) -> Joins:
    """The joins that were not taken back."""
    result: dict[str, Join] = {}
    for one in decisions:
        for target, given in one.targets.items():
            if one.action == JOIN:
                result[target] = Join(
                    joined_id=target, into=given["argument"], landed=int(given.get("landed", "0")),
                    at=datetime.fromisoformat(one.decided_at),
                )  # fmt: skip
            elif one.action == "reopen":
                result.pop(target, None)
    return Joins(of=result)


def joins_of(root: Path) -> Joins:
    """The joins of a data folder as they are now, built or not."""
    if f'"{JOIN}"'.encode() not in whole_bytes(root / LOG):
        return NONE
    return joins_in(read(root / LOG))


def ever_joined(decisions: Iterable[Decision]) -> frozenset[str]:
    """Every id that a join named, taken back or not."""
    return frozenset(
        one
        for made in decisions
        if made.action == JOIN
        for target, given in made.targets.items()
        for one in (target, given["argument"])
    )


def check_join(made: Iterable[Decision], joined_id: str, into: str) -> None:
    """Raise DecisionError where the log as it is does not allow this join, saying what to do."""
    known = joins_in(made)
    if joined_id == into:
        raise DecisionError(f"{joined_id}: both ids are the same; give the other id of this athlete")
    if joined_id in known.of:
        raise DecisionError(
            f"{joined_id}: is joined into {known.of[joined_id].into} already; take that join back "
            "first (reopen)"
        )
    if known.head(into) == joined_id:
        raise DecisionError(
            f"{into}: is joined into {joined_id}, so this would be a circle; take that join back "
            "first (reopen)"
        )
    if into in known.of:
        raise DecisionError(f"{into}: is joined into {known.head(into)}; join {joined_id} into that one")
