"""What on the screens is provisional, and where a build then came out otherwise, as far as a viewer may see it."""

from __future__ import annotations

from dataclasses import dataclass

from latewood.dashboard.reads import guard, rows, warehouse
from latewood.dashboard.reads.read import Read, circle
from latewood.dashboard.reads.typed_rows import shown_before, typed_since
from latewood.pipeline.ingest.plans.typed_mass import TypedWeighin
from latewood.pipeline.ingest.program import data_dir
from latewood.pipeline.stats import results
from latewood.pipeline.stats.plans.provisional import BuildDifference, differences

_built_mass = Read(row=results.MassTrend, kind="plan", by=("athlete_id",), order="on_date")


@dataclass(frozen=True, slots=True, kw_only=True)
class Marked:
    """The typed weigh-ins that are on the screens without a build, what was taken back, and what a build changed."""

    typed: tuple[TypedWeighin, ...] = ()
    taken_back: frozenset[str] = frozenset()  # athletes
    moved: tuple[BuildDifference, ...] = ()

    @property
    def athletes(self) -> frozenset[str]:
        """Everybody whose trend and plan are provisional."""
        return self.taken_back | {one.athlete_id for one in self.typed}


def marked(build: rows.Build) -> Marked:
    """What a screen has to mark; nothing for a viewer who sees no weight plans."""
    viewer = build.viewer
    if not viewer.holds("plan"):
        return Marked()
    made = typed_since(build.build_id)
    result = Marked(typed=made.typed, taken_back=made.taken_back, moved=_moved(build))
    camps = viewer.camps_for("plan")
    if camps is None:
        return result
    inside = circle(str(data_dir()), build.build_id, camps)
    return Marked(
        typed=guard.within(result.typed, inside),
        taken_back=result.taken_back & inside.athletes,
        moved=guard.within(result.moved, inside),
    )


def _moved(build: rows.Build) -> tuple[BuildDifference, ...]:
    """Where the published build is not what this server showed before it."""
    before = shown_before(build.build_id)
    if not before.rows.mass:
        return ()
    camps = build.viewer.camps_for("plan")
    athletes = {one.athlete_id for one in before.rows.mass}
    if camps is not None:
        athletes &= circle(str(data_dir()), build.build_id, camps).athletes
    mass = [row for athlete in sorted(athletes) for row in _built_mass(build, athlete)]
    found = differences(before.rows, mass, warehouse.built_reviews(build))
    return tuple(one for one in found if one.athlete_id in athletes)
