"""What a planted story says about one athlete."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

Path = tuple[tuple[float, float], ...]
"""Knots (days since arrival in the story's camp, value), straight between them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Story:
    """One planted story. `sessions` maps (camp, test) to session values by test day of the camp."""

    name: str
    sport: str
    birth: date
    positions: tuple[str, ...]
    bats: str
    throws: str
    camps: str
    tells: str
    height: Path = ()
    mass: Path = ()
    strength: Path = ()
    sitting: float | None = None
    path_camp: str = "F"
    sessions: Mapping[tuple[str, str], Mapping[int, float]] = field(default_factory=dict)
    plan_camps: str = ""
    plan: tuple[float, float] | None = None  # start and target, kg
    arrives_day: int = 0
    leaves_day: int = 0
    bat_change: date | None = None
    aliases: tuple[str, ...] = ()
    hits: bool = True


def male(name: str, birth: date, positions: str, hands: str, camps: str, tells: str, **rest: object) -> Story:
    """A baseball player; `positions` are split at /, `hands` is bats and throws."""
    return Story(
        name=name,
        sport="baseball",
        birth=birth,
        positions=tuple(positions.split("/")),
        bats=hands[0],
        throws=hands[1],
        camps=camps,
        tells=tells,
        **rest,  # type: ignore[arg-type]
    )


def female(
    name: str, birth: date, positions: str, hands: str, camps: str, tells: str, **rest: object
) -> Story:
    """A softball player; `positions` are split at /, `hands` is bats and throws."""
    return Story(
        name=name,
        sport="softball",
        birth=birth,
        positions=tuple(positions.split("/")),
        bats=hands[0],
        throws=hands[1],
        camps=camps,
        tells=tells,
        **rest,  # type: ignore[arg-type]
    )
