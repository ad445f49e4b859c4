"""The coach's focus for an athlete: read at each run, written down by who may."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from latewood.dashboard.actions import rights
from latewood.dashboard.reads import rows
from latewood.pipeline.ingest.logs import focus
from latewood.pipeline.ingest.program import data_dir


@dataclass(frozen=True, slots=True, kw_only=True)
class FocusDraft:
    """A focus as the coach words it: the text, the measure that will show it, and when it is looked at again."""

    text: str
    measure: str
    review_on: date
    target: float | None = None  # in the measure's unit


def targets_of(build: rows.Build, athlete_ids: Sequence[str]) -> tuple[focus.Focus, ...]:
    """Every focus with a target of those of the athletes who are the viewer's, under the ids they have now."""
    seen = rights.covered(build, "athlete", athlete_ids)
    return tuple(one for one in focus.with_target(data_dir()) if one.athlete_id in seen)


def focus_log(build: rows.Build, athlete_id: str) -> tuple[focus.Focus, ...]:
    """Every focus of an athlete, the oldest first; raises ForbiddenError where the athlete is not the viewer's."""
    rights.may(build, "athlete", (athlete_id,))
    return focus.of_athlete(data_dir(), athlete_id)


def write_focus(build: rows.Build, athlete_id: str, draft: FocusDraft, by: str) -> focus.Focus:
    """Write a focus down; raises ForbiddenError, DecisionError."""
    viewer = rights.may(build, "set focus", (athlete_id,))
    return focus.write(
        data_dir(),
        focus.NewFocus(
            athlete_id=athlete_id,
            text=draft.text,
            measure=draft.measure,
            review_on=draft.review_on,
            target=draft.target,
        ),
        viewer.signs(by),
    )
