"""Who counts as similar in build: same sex and sport, and age, height and mass within bounds; never a ranking."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from latewood.dashboard.reads.rows import Athlete, BuildAt
from latewood.dashboard.text.wording import height_text, length_text
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.catalogue.lookup import age_years

YEARS, HEIGHT_CM, MASS_KG = 1.0, 5.0, 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Similar:
    """One athlete of similar build, and why."""

    athlete_id: str
    name: str
    why: str


def bounds_words(system: str) -> str:
    """The bounds in words."""
    mass = "11 lb" if system == "us" else "5 kg"
    return (
        f"Similar: same sex and sport, ages within {YEARS:.0f} year, heights within {length_text(HEIGHT_CM, system)} "
        f"and body mass within {mass}, each on the last day the height was measured. Listed by name, not by any number."
    )


def similar_to(athlete_id: str, builds: Sequence[BuildAt], lookup: Lookup) -> tuple[Similar, ...]:
    """Who is similar, by name; nobody where the athlete's own build is not known."""
    latest = {one.athlete_id: one for one in sorted(builds, key=lambda one: one.on_date)}
    own, me = latest.get(athlete_id), lookup.athletes.get(athlete_id)
    if own is None or me is None:
        return ()
    made = [
        Similar(athlete_id=one.athlete_id, name=lookup.name(one.athlete_id), why=why)
        for one in latest.values()
        if one.athlete_id != athlete_id and (why := _why((me, own), one, lookup))
    ]
    return tuple(sorted(made, key=lambda one: (one.name, one.athlete_id)))


def _why(mine: tuple[Athlete, BuildAt], other: BuildAt, lookup: Lookup) -> str:
    """Why two count as similar; '' where they do not. Body mass is said as within the bound, not as a number."""
    me, own = mine
    them = lookup.athletes.get(other.athlete_id)
    if them is None or None in {me.sex, me.sport} or (me.sex, me.sport) != (them.sex, them.sport):
        return ""
    if me.birth_date is None or them.birth_date is None:
        return ""
    ages = age_years(me.birth_date, own.on_date), age_years(them.birth_date, other.on_date)
    if abs(ages[0] - ages[1]) > YEARS:
        return ""
    if abs(own.height_cm - other.height_cm) > HEIGHT_CM or abs(own.mass_kg - other.mass_kg) > MASS_KG:
        return ""
    heights = [height_text(one.height_cm, lookup.system) for one in (own, other)]
    mass = "11 lb" if lookup.system == "us" else "5 kg"
    return (
        f"{me.sex}, {me.sport}; ages {ages[0]:.1f} and {ages[1]:.1f} years; heights {heights[0]} and {heights[1]}; "
        f"body mass within {mass}"
    )
