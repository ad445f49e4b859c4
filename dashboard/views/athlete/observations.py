"""What coaches saw, one row per kind of observation, ratings in order of date."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.dashboard.reads.rows import Observation
from latewood.dashboard.text.wording import full_day
from latewood.dashboard.views.lookup import Lookup


def build_observations(seen: Iterable[Observation], lookup: Lookup) -> list[dict[str, str]]:
    """One row per kind: its name, and every rating with its date, the oldest first."""
    result: dict[str, list[Observation]] = {}
    for row in sorted(seen, key=lambda row: row.observed_on):
        if row.measure in lookup.measures:
            result.setdefault(row.measure, []).append(row)
    order = sorted(result, key=lambda key: lookup.measures[key].position)
    return [
        {
            "What": lookup.label(key),
            "Rated": ", ".join(f"{row.rating} ({full_day(row.observed_on)})" for row in result[key]),
        }
        for key in order
    ]
