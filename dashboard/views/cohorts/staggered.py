"""What goes with added mass where the weeks in which plans began were drawn by lot: one sentence a line."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from latewood.dashboard.text.wording import count_of, level_text, mass_scale, reading_order
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.links.results import StaggeredLink


def staggered_sentences(
    links: Iterable[StaggeredLink], families: Sequence[str], lookup: Lookup
) -> tuple[str, ...]:
    """One sentence for each line of the picked kinds; refusals last."""
    wanted = [
        k for k in links if k.measure in lookup.measures and lookup.measures[k.measure].family in families
    ]
    wanted.sort(
        key=lambda k: (k.verdict == "refused", reading_order(lookup.measures[k.measure]), k.line, k.camp_id)
    )
    return tuple(_sentence(link, lookup) for link in wanted)


def _sentence(link: StaggeredLink, lookup: Lookup) -> str:
    name = f"{lookup.camp_label(link.camp_id)}, {lookup.full_label(link.measure, link.line)}"
    if link.per_kg is None or link.low is None or link.high is None:
        return f"{name}: no number, {link.reason}."
    mass, scale = mass_scale(lookup.system), lookup.scale(link.measure)
    each = 1 / mass.factor
    tail = " (may be zero)" if link.low <= 0 <= link.high else ""
    return (
        f"{name}: each {mass.unit} that an earlier start added went with {scale.change(link.per_kg * each, 1)} "
        f"({level_text(link.level)} range {scale.interval(link.low * each, link.high * each, 1)}){tail}, "
        f"time in the program set aside; "
        f"{count_of(link.n_athletes, 'athlete')} in {link.n_groups} groups, {link.n_as_drawn} began as drawn."
    )
