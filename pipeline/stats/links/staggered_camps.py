"""The analysis of `staggered` for the camps whose starts of weight plans were drawn, with what it refuses."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue.chances import chance_text
from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.stats.engine.session_lines import by_line, comparable_sessions
from latewood.pipeline.stats.links.link_design import LINKED_FAMILIES, MASS_GAP_DAYS, carry, day_numbers
from latewood.pipeline.stats.links.results import StaggeredLink
from latewood.pipeline.stats.links.staggered import (
    FEWEST_IN_GROUP,
    LEVEL,
    Contrast,
    Estimate,
    Trial,
    contrast,
    estimate_of,
)
from latewood.pipeline.stats.links.start_draw import Ints

AS_DRAWN_DAYS: Final = 7
LEAST_AS_DRAWN: Final = 0.5
METHOD: Final = (
    "weeks since the drawn start as instrument for body mass; sessions weighted by own level, own slope and noise; "
    "interval and test by 1,999 other draws"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A camp's draw: the athlete at each place, their start, the days of all starts, and who began as drawn."""

    camp_id: str
    place: Mapping[str, int]
    group: Ints  # (n,)
    starts: Ints  # (K,) days since 1970
    as_drawn: frozenset[str]


def staggered_links(
    session_values: pd.DataFrame,
    mass_trend: pd.DataFrame,
    draws: pd.DataFrame,
    first_plans: pd.DataFrame,
    measures: Mapping[str, Measure],
) -> tuple[StaggeredLink, ...]:
    """One result for every line that was tested in a camp with a draw; nothing for the other camps.

    `draws` has one row per place (camp_id, place, athlete_id, start_on), athlete_id missing where they were erased;
    `first_plans` every plan as it was first made (athlete_id, camp_id, start_on). Starts are those of the draw: a
    plan is only looked at to count whether it began as drawn, so no start that a coach chose enters a number.
    Raises NotComputedError where columns of the fit depend on each other.
    """
    result: list[StaggeredLink] = []
    linked = {k for k, m in measures.items() if m.family in LINKED_FAMILIES}
    for camp, rows in draws.groupby("camp_id", sort=True):
        draw = _drawn(str(camp), rows, first_plans)
        own = session_values[session_values["camp_id"].eq(camp) & session_values["measure"].isin(linked)]
        for (measure, line), sessions in by_line(comparable_sessions(own, measures)):
            trial = _trial(sessions, mass_trend, draw)
            result.append(staggered_link(trial, draw, measure, line))
    return tuple(result)


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupsCompared:
    """Groups of a draw: athletes in each (g,), how many began as drawn, the contrast, the estimate, or why none."""

    sizes: Ints
    kept: int
    seen: Contrast | None
    number: Estimate | None
    reason: str


def staggered_link(trial: Trial, draw: Drawn, measure: str, line: str) -> StaggeredLink:
    """Return the number of one line, or why the draw tells nothing.

    Raises NotComputedError where columns of the fit depend on each other.
    """
    trial = trial.usable()
    present = np.unique(trial.place)
    sizes = np.bincount(trial.group[present], minlength=len(draw.starts))
    kept = len(set(present.tolist()) & {draw.place[name] for name in draw.as_drawn})
    reason = _refusal(sizes, kept)
    observed = None if reason else contrast(trial)
    if observed is None and not reason:
        reason = "tests were made only before the first start or when all had been on plan for equally long"
    number = estimate_of(observed) if observed is not None else None
    if number is not None and not np.isfinite([number.low, number.high]).all():
        reason = (
            "groups that began later did not weigh clearly less, so the starts tell nothing of mass "
            f"(chance of such a difference by the draw alone {chance_text(number.chance_mass)})"
        )
    compared = GroupsCompared(sizes=sizes, kept=kept, seen=observed, number=number, reason=reason)
    return _result(trial, draw, (measure, line), compared)


def _result(trial: Trial, draw: Drawn, key: tuple[str, str], compared: GroupsCompared) -> StaggeredLink:
    seen, number, reason = compared.seen, compared.number, compared.reason
    given = number if number is not None and not reason else None
    zero = given is not None and given.low <= 0.0 <= given.high
    return StaggeredLink(
        camp_id=draw.camp_id,
        measure=key[0],
        line=key[1],
        per_kg=given.per_kg if given else None,
        low=given.low if given else None,
        high=given.high if given else None,
        standard_error=given.standard_error if given else None,
        chance=given.chance_output if given else None,
        kg_per_week=float(seen.per_week[1]) if seen else None,
        chance_mass=number.chance_mass if number else None,
        n_athletes=int(compared.sizes.sum()),
        n_sessions=len(trial.value),
        n_groups=len(draw.starts),
        smallest_group=int(compared.sizes.min()),
        n_as_drawn=compared.kept,
        verdict="refused" if given is None else "may be zero" if zero else "estimated",
        reason=reason,
        level=LEVEL,
        method=METHOD,
    )


def _refusal(sizes: Ints, kept: int) -> str:
    if len(sizes) < 2:
        return "nobody was staggered: all plans were to begin on the same day"
    if sizes.min() < FEWEST_IN_GROUP:
        return (
            f"{sizes.min()} athletes of the smallest group have two tests and a body mass, "
            f"{FEWEST_IN_GROUP} in each are needed"
        )
    if kept < LEAST_AS_DRAWN * sizes.sum():
        return f"only {kept} of {sizes.sum()} plans began within a week of the day that was drawn"
    return ""


def _drawn(camp: str, rows: pd.DataFrame, first_plans: pd.DataFrame) -> Drawn:
    rows = rows.sort_values("place", ignore_index=True)
    days = day_numbers(rows["start_on"])
    starts, group = np.unique(days, return_inverse=True)
    place = {str(name): at for at, name in enumerate(rows["athlete_id"]) if isinstance(name, str) and name}
    plans = first_plans[first_plans["camp_id"].eq(camp)]
    began = dict(zip(plans["athlete_id"].astype(str), day_numbers(plans["start_on"]), strict=True))
    kept = {n for n, at in place.items() if n in began and abs(began[n] - days[at]) <= AS_DRAWN_DAYS}
    return Drawn(
        camp_id=camp, place=place, group=group.astype(np.int64), starts=starts, as_drawn=frozenset(kept)
    )


def _trial(sessions: pd.DataFrame, mass_trend: pd.DataFrame, draw: Drawn) -> Trial:
    rows = sessions[sessions["athlete_id"].astype(str).isin(draw.place)]
    rows = rows.sort_values(["stay_id", "day"], kind="stable", ignore_index=True)
    mass = carry(mass_trend, rows, ("smoothed_kg",), day="on_date", within_days=MASS_GAP_DAYS)[:, 0]
    since = (rows["day"].to_numpy(dtype=float)[:, None] - draw.starts[None, :]) / 7.0
    return Trial(
        place=np.array([draw.place[name] for name in rows["athlete_id"].astype(str)], dtype=np.int64),
        stay=rows["stay_id"].to_numpy(dtype=object),
        weeks=rows["t"].to_numpy(dtype=float),
        since=np.maximum(since, 0.0),
        mass=mass,
        value=rows["value"].to_numpy(dtype=float),
        group=draw.group,
    )
