"""The mark at everything that rests on a typed weigh-in that no build holds yet."""

from __future__ import annotations

from latewood.dashboard.actions import plan_actions
from latewood.dashboard.reads import provisional_reads, warehouse
from latewood.dashboard.screens import parts
from latewood.dashboard.text.wording import mass_scale
from latewood.dashboard.views.provisional import Writing, mark_text, moved_texts, trend_line
from latewood.pipeline.ingest.logs.planlog import hidden_masses


def mark(opened: parts.Opened, athlete_id: str | None = None) -> None:
    """One line where a trend or plan is provisional, of everybody or of one athlete; and what a build changed."""
    marked = provisional_reads.marked(opened.build)
    typed = [one for one in marked.typed if athlete_id in (None, one.athlete_id)]
    gone = {one for one in marked.taken_back if athlete_id in (None, one)}
    moved = [one for one in marked.moved if athlete_id in (None, one.athlete_id)]
    if not typed and not gone and not moved:
        return
    write = _writing(opened)
    for text in (mark_text(typed, gone, write), *moved_texts(moved, write)):
        if text:
            _line(text)


def _line(text: str) -> None:
    """A line in the frame of what asks for attention, without being an alarm."""
    parts.words(text, "lw-provisional")


def after_weighin(opened: parts.Opened) -> None:
    """Trend and plan of those whose weigh-in was just typed, folded: at the scale nobody reads another's mass."""
    marked = provisional_reads.marked(opened.build)
    if not marked.typed:
        return
    write = _writing(opened)
    reviews = {one.stay_id: one for one in warehouse.plan_reviews(opened.build)}
    lines = []
    for one in marked.typed:
        trend = warehouse.athlete_mass(opened.build, one.athlete_id)
        own = [row for row in trend if row.stay_id == one.stay_id]
        lines.append(trend_line(one.athlete_id, own[-1].kg, reviews.get(one.stay_id), write))
    parts.on_opening(f"Provisional trends: {len(lines)}", "weighin_provisional", lambda: parts.bullets(lines))


def _writing(opened: parts.Opened) -> Writing:
    return Writing(
        name=opened.lookup.name,
        scale=mass_scale(opened.lookup.system),
        today=opened.today,
        hidden=hidden_masses(plan_actions.plan_log(opened.build)),
    )
