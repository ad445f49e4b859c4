"""The blocks of the athlete page."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from latewood.dashboard.actions import focus_actions
from latewood.dashboard.charts.fan import draw_fan
from latewood.dashboard.charts.rail import rail_key, rail_sheet
from latewood.dashboard.charts.strip import strip_sheet
from latewood.dashboard.charts.targets import set_target_key, set_target_sheet, target_key, target_sheet
from latewood.dashboard.charts.timeline import draw_timeline
from latewood.dashboard.reads import movement_reads, plan_reads, warehouse
from latewood.dashboard.reads.rows import SessionValue, Stay
from latewood.dashboard.screens import parts
from latewood.dashboard.screens.athlete import stage
from latewood.dashboard.screens.scorecard_part import scorecard
from latewood.dashboard.text import cautions, condition_words, empties
from latewood.dashboard.text.wording import full_day, verbatim
from latewood.dashboard.views.athlete.head import Head, stays_of
from latewood.dashboard.views.athlete.observations import build_observations
from latewood.dashboard.views.athlete.rails import build_rails
from latewood.dashboard.views.athlete.scorecard import build_scorecard
from latewood.dashboard.views.athlete.set_targets import build_set_targets
from latewood.dashboard.views.athlete.sources import build_sources
from latewood.dashboard.views.athlete.standing import build_strips
from latewood.dashboard.views.athlete.targets import build_fan, build_targets, latest_dates
from latewood.dashboard.views.athlete.timeline import (
    Record,
    apart_words,
    broken_lines,
    build_timeline,
    first_measures,
    measures_on_record,
)

OUTPUTS = ("skill_output", "speed")  # kinds of measure that are what the work is for
OTHERS = "Strength, jumps and other measures"
AGREEMENT_KEY = (
    "Kappa is agreement beyond chance: 1 is always the same word, 0 as by chance. Neighbouring words (none and slight) "
    "count half. Over all athletes whom both rated on one day."
)
TIMELINE_KEY = (
    "Dots are test days with the test's own error, lines are trends with their range. For body mass: weigh-ins, "
    "smoothed mass with its 95 % range, and the weight plan as dashes."
)


def pick_stay(opened: parts.Opened, athlete_id: str) -> str | None:
    """The stay to show: the latest one unless another is picked."""
    ids = [stay.stay_id for stay in stays_of(athlete_id, opened.lookup)]
    labels = {one: opened.lookup.camp_label(opened.lookup.stays[one].camp_id) for one in ids}
    if len(ids) < 2:
        return ids[0] if ids else None
    return parts.pick("Stay", ids, ids[0], parts.named(labels), key=f"athlete_stay_{athlete_id}")


def head(view: Head) -> None:
    """Who this is."""
    st.subheader(verbatim(view.name), anchor=False)
    lines = (" · ".join(view.facts), view.camp_line, " · ".join(view.build))
    st.html("".join(f'<p class="lw-head">{parts.safe(line)}</p>' for line in lines if line))


def changes(opened: parts.Opened, record: Record, stay: Stay | None) -> None:
    """What changed: rails, the surest first."""
    parts.section("What changed")
    own = [trend for trend in record.trends if stay is not None and trend.stay_id == stay.stay_id]
    only = st.toggle(parts.STANDING_ONLY, key="athlete_standing")
    broken = broken_lines(record, opened.lookup)
    retests = plan_reads.retests(opened.build, stay.athlete_id) if stay is not None else ()
    sheet = build_rails(own, record.values, opened.lookup, standing_only=only, retests=retests)
    parts.words(apart_words(broken))
    if sheet.rails:
        st.html(rail_key() + rail_sheet(sheet.rails))
    elif only and sheet.by_chance:
        parts.words("No change is sure with all of this stay looked at together.")
    if sheet.by_chance:
        parts.words(f"{sheet.by_chance} {sheet.together}")
    else:
        parts.empty(empties.NO_VERDICT)
    if sheet.too_few:
        label = f"Too few sessions for a verdict: {len(sheet.too_few)}"
        parts.on_opening(label, "athlete_too_few", lambda: parts.bullets(sheet.too_few))
    if broken:
        label = f"Lines that are not joined: {len(broken)}"
        texts = [
            f"{name}, new line from {full_day(one.on)}: {one.reason}. {condition_words.why_apart(one.changed)}"
            for name, one in broken
        ]
        parts.on_opening(label, "athlete_broken", lambda: parts.bullets(texts))
    parts.caution(cautions.MEASUREMENT)


def timeline(opened: parts.Opened, record: Record, stays: Sequence[Stay], stay: Stay | None) -> None:
    """Build, strength and outputs on one time axis."""
    parts.section("On one time axis")
    lookup = opened.lookup
    every = len(stays) > 1 and st.toggle("Every stay", key="athlete_every_stay")
    shown = st.multiselect(
        "Measures drawn",
        measures_on_record(record, lookup),
        default=first_measures(record, lookup),
        format_func=lookup.label,
        key=f"athlete_shown_{stay.athlete_id if stay else ''}",
    )
    view = build_timeline(record, shown, stays if every or stay is None else [stay], opened.today, lookup)
    if view is None:
        parts.empty(empties.NOT_IN_STAY)
        return
    parts.words(TIMELINE_KEY, "lw-key")
    parts.chart(draw_timeline, view, opened.colours, [f"{panel.title}. {view.alt}" for panel in view.panels])
    for panel in view.panels:
        for one in panel.breaks:
            why = condition_words.why_apart(one.changed)
            parts.words(f"{panel.title}: line broken; {one.reason}. {why}".strip(), "lw-small")


def standing(opened: parts.Opened, athlete_id: str) -> None:
    """Among athletes of similar build."""
    parts.section("Among athletes of similar build")
    result = warehouse.athlete_standings(opened.build, athlete_id)
    strips = build_strips(result, warehouse.athlete_neighbours(opened.build, athlete_id), opened.lookup)
    if not strips:
        parts.empty(empties.NO_PEERS)
        return
    given = [one for one in strips if not one.refused]
    stage.stages(opened, athlete_id)
    st.html(strip_sheet(one for one in given if one.family in OUTPUTS))
    parts.folded(OTHERS, [one for one in given if one.family not in OUTPUTS], strip_sheet, "athlete_others")
    parts.folded("Not shown", [one for one in strips if one.refused], strip_sheet, "athlete_not_placed")
    parts.caution(cautions.PEERS)


def set_targets(
    opened: parts.Opened, athlete_id: str, values: Sequence[SessionValue], *, waiting: bool = False
) -> None:
    """The targets that coaches set, as a chart; only those that wait where asked so."""
    log = focus_actions.targets_of(opened.build, (athlete_id,))
    rows = build_set_targets(log, values, opened.lookup, opened.today)
    if waiting:
        parts.sheet(set_target_sheet(one for one in rows if one.waits))
    elif rows:
        parts.section("Targets that were set")
        parts.sheet(set_target_key() + set_target_sheet(rows))
        parts.caution(cautions.TARGET)


def targets(opened: parts.Opened, athlete_id: str, stay: Stay, values: Sequence[SessionValue]) -> None:
    """Targets that were set, then values at a date or at a body mass."""
    set_targets(opened, athlete_id, values)
    parts.section("Where this may go")
    result = warehouse.athlete_projections(opened.build, athlete_id)
    scores = warehouse.projection_scores(opened.build)
    rows = build_targets(result, stay.stay_id, opened.lookup, scores, values)
    if not rows:
        parts.empty(empties.NO_TARGET)
        return
    given = [row for row in rows if not row.refusal]
    if not given:
        parts.words("Nothing can be said of what comes; the reasons are below.")
    first, earlier = latest_dates(given)
    parts.sheet((target_key() if any(row.place for row in first) else "") + target_sheet(first))
    parts.folded("Earlier dates", earlier, target_sheet, "athlete_earlier_dates")
    parts.folded("Not shown", [row for row in rows if row.refusal], target_sheet, "athlete_not_ahead")
    names = {row.key: row.name for row in rows if row.has_date and not row.refusal}
    if names:
        key = parts.pick("Draw one over time", list(names), None, parts.named(names), key="athlete_fan")
        fan = build_fan(result, values, stay.stay_id, key, opened.lookup) if key else None
        if fan is not None:
            parts.chart(draw_fan, fan, opened.colours, [fan.alt])
    card = build_scorecard(scores, opened.lookup)
    parts.on_opening(
        "How past projections did: the tool reports on itself", "athlete_scores", lambda: scorecard(card)
    )
    parts.caution(cautions.PROJECTION)


def observations(opened: parts.Opened, athlete_id: str) -> None:
    """What coaches saw."""
    seen = warehouse.athlete_observations(opened.build, athlete_id)
    grid = build_observations(seen, movement_reads.agreements(opened.build) if seen else (), opened.lookup)
    if not grid.latest:
        return
    parts.section("What coaches saw")
    parts.table(grid.latest, "Movement ratings of the latest days")
    parts.words(grid.plain, "lw-small")

    def exact() -> None:
        parts.words(AGREEMENT_KEY, "lw-key")
        parts.bullets(grid.exact)

    if grid.exact:
        parts.on_opening("How far two raters agree, exactly", f"raters_{athlete_id}", exact)
    if grid.earlier:
        parts.on_opening(
            "Earlier ratings", f"rated_earlier_{athlete_id}",
            lambda: parts.table(grid.earlier, "Movement ratings of earlier days"),
        )  # fmt: skip
    parts.caution(cautions.MOVEMENT)


def sources(opened: parts.Opened, record: Record, stay: Stay | None) -> None:
    """Where the numbers come from."""
    parts.on_opening(
        "Where these numbers come from",
        "athlete_sources",
        lambda: parts.table(
            build_sources(record, stay, opened.lookup), "Each number with its sessions and files"
        ),
    )
