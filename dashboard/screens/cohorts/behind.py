"""The athletes behind one cohort number."""

from __future__ import annotations

import streamlit as st

from latewood.dashboard.charts.forest import draw_forest
from latewood.dashboard.charts.rail import rail_key, rail_words
from latewood.dashboard.charts.slopes import draw_slopes
from latewood.dashboard.reads import warehouse
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.cohorts import target_part
from latewood.dashboard.screens.registry import file_of
from latewood.dashboard.screens.scorecard_part import scorecard
from latewood.dashboard.text import cautions, empties
from latewood.dashboard.text.wording import verbatim
from latewood.dashboard.views.athlete.scorecard import build_scorecard
from latewood.dashboard.views.cohorts.behind import Behind, BehindRow, build_behind, build_slopes
from latewood.dashboard.views.cohorts.cohorts import build_forest, build_gain_row

SHOWN = 8  # athletes drawn at once; the others are in a fold


def render() -> None:
    """Draw the screen."""
    opened = parts.open_screen("Athletes behind the number")
    if opened is None:
        return
    lookup, camp = opened.lookup, st.query_params.get("camp", "")
    measure, _, line = st.query_params.get("measure", "").partition("|")
    if camp not in lookup.camps or measure not in lookup.measures:
        parts.empty(empties.NO_SUCH_NUMBER)
        return
    st.page_link(
        file_of("cohorts"), label=f"Back to {verbatim(lookup.camp_label(camp))}", query_params={"camp": camp}
    )
    st.subheader(verbatim(f"{lookup.full_label(measure, line)}, {lookup.camp_label(camp)}"), anchor=False)
    gains = warehouse.cohort_gains(opened.build)
    own = [g for g in gains if (g.camp_id, g.measure, g.line) == (camp, measure, line)]
    for row in (build_gain_row(gain, lookup) for gain in own):
        words = (
            row.refusal
            or f"Gain {row.amount} ({row.interval}); {row.basis}. Plain difference {row.raw or 'not known'}."
        )
        parts.words(f"{words} {row.counts}, {row.n_left_early} left early.")
    trends = warehouse.camp_trends(opened.build, camp, measure, line)
    values = warehouse.camp_values(opened.build, camp, measure, line)
    left, right = st.columns(2)
    slopes = build_slopes(values, own[0] if own else None, lookup)
    if slopes is not None:
        with left:
            parts.chart(draw_slopes, slopes, opened.colours, [slopes.alt])
    forest = build_forest(gains, measure, line, lookup)
    with right:
        if forest.points:
            parts.chart(draw_forest, forest, opened.colours, [forest.alt])
        parts.words(" ".join(f"{text}." for text in forest.refused), "lw-small")
    parts.section("Each athlete")
    only = st.toggle(parts.STANDING_ONLY, key="behind_standing")
    _athletes(build_behind(trends, values, lookup, standing_only=only))
    target_part.targets(opened, trends, values, (measure, line))
    parts.section("How past projections of this measure did")
    with st.expander("The table"):
        scorecard(build_scorecard(warehouse.projection_scores(opened.build), lookup, measure))


def _athletes(view: Behind) -> None:
    parts.words(f"{view.summary} {view.by_chance} {view.together} × left early.")
    st.html(rail_key())
    for row in view.rows[:SHOWN]:
        _athlete(row)
    parts.caution(cautions.MEASUREMENT)
    if len(view.rows) > SHOWN:
        with st.expander(f"The other {len(view.rows) - SHOWN} athletes"):
            for row in view.rows[SHOWN:]:
                _athlete(row)


def _athlete(row: BehindRow) -> None:
    name, words = st.columns([1, 3], vertical_alignment="center")
    with name:
        parts.athlete_link(row.athlete_id, row.name + (" ×" if row.left_early else ""))
    words.html(
        rail_words(row.rail) if row.rail else f'<div class="lw-words lw-refused">{parts.safe(row.text)}</div>'
    )


if __name__ == "__main__":
    render()
