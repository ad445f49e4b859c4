"""Compare: two test days, two stays, or two athletes of similar build, where the conditions are equal."""

from __future__ import annotations

from datetime import date

import streamlit as st

from latewood.dashboard.reads import warehouse
from latewood.dashboard.screens import parts
from latewood.dashboard.text import empties
from latewood.dashboard.text.wording import full_day
from latewood.dashboard.views.athlete.head import stays_of
from latewood.dashboard.views.compare.compare import (
    PER_WEEKS,
    Comparison,
    compare_athletes,
    compare_days,
    compare_stays,
    first_pair,
    test_days,
)
from latewood.dashboard.views.compare.similar import bounds_words, similar_to

DAYS, STAYS, BUILD = "days", "stays", "build"
KINDS = {DAYS: "Two test days", STAYS: "Two stays", BUILD: "Similar build"}
CAUTION = (
    "A difference says nothing of its cause. The range is where the true difference lies in 95 of 100 such cases; only "
    "what was measured in the same way is set side by side."
)
PEER = "Bodies grow at their own pace. Nobody is ranked here, and nobody's body mass is shown."


def render() -> None:
    """Draw the screen."""
    opened = parts.open_screen("Compare")
    if opened is None:
        return
    athlete_id = st.query_params.get("athlete", "")
    if athlete_id not in opened.lookup.athletes:
        parts.refused(empties.NOT_YOURS if athlete_id else "Open it from an athlete's page.")
        return
    parts.athlete_link(athlete_id, f"Back to {opened.lookup.name(athlete_id)}")
    kind = st.segmented_control(
        "Compare",
        list(KINDS),
        default=DAYS,
        format_func=parts.named(KINDS),
        key="compare_kind",
        required=True,
    )
    {DAYS: _days, STAYS: _stays, BUILD: _build}[kind or DAYS](opened, athlete_id)
    parts.caution(CAUTION)


def _days(opened: parts.Opened, athlete_id: str) -> None:
    values = warehouse.athlete_values(opened.build, athlete_id)
    pair = first_pair(values, opened.lookup)
    if pair is None:
        parts.empty("It takes two test days. Import readings in Data.")
        return
    ids = [one.isoformat() for one in test_days(values, opened.lookup)]
    names = parts.named({one: full_day(date.fromisoformat(one)) for one in ids})
    left, right = st.columns(2)
    with left:
        first = parts.pick("First day", ids, pair[0].isoformat(), names, key=f"compare_first_{athlete_id}")
    with right:
        second = parts.pick("Second day", ids, pair[1].isoformat(), names, key=f"compare_second_{athlete_id}")
    if first is None or second is None or first == second:
        parts.words("Pick two days that differ.")
        return
    days = date.fromisoformat(first), date.fromisoformat(second)
    _show(compare_days(values, days, opened.lookup))


def _stays(opened: parts.Opened, athlete_id: str) -> None:
    ids = [one.stay_id for one in stays_of(athlete_id, opened.lookup)]
    if len(ids) < 2:
        parts.empty("One stay is on record; it takes two.")
        return
    labels = {one: opened.lookup.camp_label(opened.lookup.stays[one].camp_id) for one in ids}
    left, right = st.columns(2)
    with left:
        first = parts.pick("First stay", ids, ids[1], parts.named(labels), key=f"compare_stay_{athlete_id}")
    with right:
        second = parts.pick("Second stay", ids, ids[0], parts.named(labels), key=f"compare_with_{athlete_id}")
    if first is None or second is None or first == second:
        parts.words("Pick two stays that differ.")
        return
    trends = warehouse.athlete_trends(opened.build, athlete_id)
    here, there = ([one for one in trends if one.stay_id == stay] for stay in (first, second))
    parts.words(
        f"Stays differ in length, so changes are set side by side as change in {PER_WEEKS} weeks.", "lw-small"
    )
    _show(compare_stays(here, there, (labels[first], labels[second]), opened.lookup))


def _build(opened: parts.Opened, athlete_id: str) -> None:
    parts.words(bounds_words(opened.lookup.system), "lw-small")
    found = similar_to(athlete_id, warehouse.builds(opened.build), opened.lookup)
    if not found:
        parts.empty("Nobody here counts as similar, or height and body mass are not on record near one day.")
        return
    by_id = {one.athlete_id: one for one in found}
    names = parts.named({key: one.name for key, one in by_id.items()})
    other = parts.pick("With", list(by_id), found[0].athlete_id, names, key=f"compare_other_{athlete_id}")
    if other is None:
        return
    parts.words(f"Why they count as similar: {by_id[other].why}.")
    sides = [warehouse.athlete_values(opened.build, one) for one in (athlete_id, other)]
    own, their = opened.lookup.name(athlete_id), opened.lookup.name(other)
    same = f"{their} ({other})" if own == their else their
    _show(compare_athletes(sides[0], sides[1], (own, same), opened.lookup))
    parts.caution(PEER)


def _show(made: Comparison) -> None:
    parts.words(made.answer, "lw-first")
    if made.rows:
        parts.table(made.table(), f"{made.first} beside {made.second}, with the difference of each measure")
    if made.apart:
        label = f"Not set side by side, with the reason: {len(made.apart)}"
        parts.on_opening(label, "compare_apart", lambda: parts.bullets(made.apart), at_first=not made.rows)


if __name__ == "__main__":
    render()
