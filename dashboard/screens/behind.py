"""The athletes behind one cohort number."""

from __future__ import annotations

import streamlit as st

from dashboard import cautions, data, empties
from dashboard.charts.forest import draw_forest
from dashboard.charts.rail import rail_key, rail_words
from dashboard.charts.slopes import draw_slopes
from dashboard.screens import parts
from dashboard.screens.scorecard_part import scorecard
from dashboard.views.behind import Behind, build_behind, build_slopes
from dashboard.views.cohorts import build_forest, build_gain_row
from dashboard.views.scorecard import build_scorecard
from dashboard.wording import verbatim


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
        parts.COHORTS, label=f"Back to {verbatim(lookup.camp_label(camp))}", query_params={"camp": camp}
    )
    st.subheader(verbatim(f"{lookup.full_label(measure, line)}, {lookup.camp_label(camp)}"), anchor=False)
    gains = data.cohort_gains(opened.build)
    own = [g for g in gains if (g.camp_id, g.measure, g.line) == (camp, measure, line)]
    for row in (build_gain_row(gain, lookup) for gain in own):
        said = (
            row.refusal
            or f"Gain {row.amount} ({row.interval}); {row.basis}. Plain difference {row.raw or 'not known'}."
        )
        parts.words(f"{said} {row.counts}, {row.n_left_early} left early.")
    trends = data.camp_trends(opened.build, camp, measure, line)
    values = data.camp_values(opened.build, camp, measure, line)
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
    parts.section("How past projections of this measure did")
    scorecard(build_scorecard(data.projection_scores(opened.build), lookup, measure))


def _athletes(view: Behind) -> None:
    parts.words(f"{view.summary} {view.by_chance} {view.together} × left early.")
    st.html(rail_key())
    for row in view.rows:
        name, words = st.columns([1, 3], vertical_alignment="center")
        with name:
            parts.athlete_link(row.athlete_id, row.name + (" ×" if row.left_early else ""))
        words.html(
            rail_words(row.rail)
            if row.rail
            else f'<div class="lw-words lw-refused">{parts.safe(row.text)}</div>'
        )
    parts.caution(cautions.MEASUREMENT)


if __name__ == "__main__":
    render()
