"""Where the numbers of one stay come from: sessions, dates, line, error, imports, method."""

from __future__ import annotations

from latewood.dashboard.reads.rows import Stay
from latewood.dashboard.text.wording import day_span
from latewood.dashboard.views.athlete.rails import build_rail
from latewood.dashboard.views.athlete.timeline import Record
from latewood.dashboard.views.lookup import Lookup


def build_sources(record: Record, stay: Stay | None, lookup: Lookup) -> list[dict[str, str]]:
    """One row per measure and line of the stay, as label and text."""
    rows = []
    for trend in record.trends:
        if stay is None or trend.stay_id != stay.stay_id or trend.measure not in lookup.measures:
            continue
        rail = build_rail(trend, record.values, lookup)
        error, scale = lookup.errors.get((trend.measure, trend.line)), lookup.scale(trend.measure)
        known = error is not None and error.typical_error is not None
        rows.append({
            "Measure and line": lookup.full_label(trend.measure, trend.line),
            "Sessions": f"{trend.n_sessions} sessions, {trend.n_trials} trials",
            "Dates": day_span(trend.first_on, trend.last_on),
            "First and last": f"{scale.number(trend.first_value)} and {scale.text(trend.last_value)}",
            "Test's own error": f"{scale.text(error.typical_error or 0.0, 1)} ({error.basis})"
            if error and known
            else "not known",
            "Size, drawn towards the camp": rail.sized or "not known",
            "Imports": rail.imports or "not known",
            "Method": trend.method,
        })
    return rows
