"""What camps gained per measure, leavers counted, small groups refused in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from latewood.dashboard.reads.rows import Camp, Stay
from latewood.dashboard.text.wording import (
    about_count,
    change_words,
    count_of,
    day_span,
    interval_words,
    level_text,
)
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.change.results import CohortGain
from latewood.pipeline.stats.engine.multiplicity import expected_false_flags

REACH = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class GainRow:
    """One camp in one line. Positions count typical errors of one test, better to the right."""

    camp_id: str
    camp: str
    position: float | None
    low: float | None
    high: float | None
    amount: str
    interval: str
    shrunk: str
    raw: str
    first_day: str  # what the gain is where the first day counts as any other, if it cannot be told from gain
    counts: str
    n_left_early: int
    basis: str
    refusal: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GainBlock:
    """One measure and line with a row per camp."""

    key: str
    name: str
    conditions: str
    better: str
    rows: tuple[GainRow, ...]
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CampHead:
    """One camp in a line: dates, enrolled, still there, left early."""

    label: str
    text: str


def key_of(measure: str, line: str) -> str:
    """One key for measure and line, as it stands in widgets."""
    return f"{measure}|{line}"


def build_camp_heads(camps: Iterable[Camp], stays: Sequence[Stay]) -> tuple[CampHead, ...]:
    """The heads of the picked camps."""
    heads = []
    for camp in camps:
        own = [stay for stay in stays if stay.camp_id == camp.camp_id]
        early = sum(stay.left_early for stay in own)
        left = f"{early} left early" if early else "nobody left early"
        heads.append(
            CampHead(
                label=camp.label,
                text=f"{day_span(camp.starts_on, camp.ends_on)}; {count_of(len(own), 'athlete')} enrolled, {left}",
            )
        )
    return tuple(heads)


def build_blocks(
    gains: Iterable[CohortGain], camp_ids: Sequence[str], families: Sequence[str], lookup: Lookup
) -> tuple[GainBlock, ...]:
    """One block per measure and line of a picked camp: kinds of measure in the order picked, refused ones last.

    Of the lines of one measure the one with most athletes comes first.
    """
    wanted = [
        gain
        for gain in gains
        if gain.camp_id in camp_ids
        and gain.measure in lookup.measures
        and lookup.measures[gain.measure].family in families
    ]
    keys = {(gain.measure, gain.line) for gain in wanted}
    sizes = {
        key_of(*key): sum(gain.n_measured for gain in wanted if (gain.measure, gain.line) == key)
        for key in keys
    }
    blocks = [_block(measure, line, wanted, camp_ids, lookup) for measure, line in keys]
    return tuple(
        sorted(blocks, key=lambda block: (*_rank(block, families, lookup), -sizes[block.key], block.key))
    )


def behind_links(block: GainBlock) -> tuple[tuple[str, str], ...]:
    """The camp behind each row of a block with the words of its link, which name it where there are several."""
    several = len(block.rows) > 1
    return tuple(
        (row.camp_id, f"See athletes: {row.camp}" if several else "See athletes") for row in block.rows
    )


def by_chance(blocks: Iterable[GainBlock], level: float) -> str:
    """How many of the intervals shown would leave zero out if no camp had gained or lost anything."""
    n = sum(not row.refusal for block in blocks for row in block.rows)
    if n == 0:
        return ""
    of = "of this 1 range" if n == 1 else f"of these {n} ranges"
    lucky = about_count(expected_false_flags(n, 1 - level))
    return f"If no group had gained or lost anything, luck alone would make {lucky} {of} look like a change."


def is_refused(block: GainBlock) -> bool:
    """Whether no camp of the block has a group number."""
    return all(row.refusal for row in block.rows)


def _rank(block: GainBlock, families: Sequence[str], lookup: Lookup) -> tuple[bool, int, int]:
    measure = lookup.measures[block.key.partition("|")[0]]
    return is_refused(block), list(families).index(measure.family), measure.position


def _block(
    measure: str, line: str, gains: list[CohortGain], camp_ids: Sequence[str], lookup: Lookup
) -> GainBlock:
    own = {gain.camp_id: gain for gain in gains if (gain.measure, gain.line) == (measure, line)}
    row = lookup.measures[measure]
    return GainBlock(
        key=key_of(measure, line),
        name=row.label,
        conditions=lookup.words(measure, line),
        better={"higher": "more is better", "lower": "less is better"}.get(
            row.better, "neither way is better"
        ),
        rows=tuple(build_gain_row(own[camp], lookup) for camp in camp_ids if camp in own),
        note=_note(list(own.values())),
    )


def _note(gains: list[CohortGain]) -> str:
    if len(gains) < 2:
        return ""
    if any(gain.camps_differ is False for gain in gains):
        return "The program's camps cannot be separated in this measure: do not rank them."
    return (
        "Over all camps of the program, at least two differ in this measure."
        if any(gain.camps_differ for gain in gains)
        else ""
    )


def build_gain_row(gain: CohortGain, lookup: Lookup) -> GainRow:
    """One camp's row: numbers in words, positions for the drawing."""
    scale, measure = lookup.mean_scale(gain.measure), lookup.measures[gain.measure]
    refused = gain.gain is None or gain.low is None or gain.high is None or gain.verdict == "refused"
    basis = f"{level_text(gain.level)} range"
    if gain.weeks is not None:
        basis += f", over {gain.weeks:.1f} weeks"
    ends = (None, None, None) if refused else _positions(gain, lookup)
    return GainRow(
        camp_id=gain.camp_id,
        camp=lookup.camp_label(gain.camp_id),
        position=ends[0],
        low=ends[1],
        high=ends[2],
        amount="" if refused else change_words(measure, scale, gain.gain or 0.0),
        interval="" if refused else interval_words(measure, scale, gain.low or 0.0, gain.high or 0.0),
        shrunk="" if gain.shrunk_gain is None else change_words(measure, scale, gain.shrunk_gain),
        raw=_plain(gain, lookup),
        first_day="" if refused else _first_day(gain, lookup),
        counts=f"{gain.n_enrolled} enrolled, {gain.n_measured} measured, {gain.n_with_exit} with exit test",
        n_left_early=gain.n_left_early,
        basis=basis,
        refusal=(gain.reason or "too few athletes for a group number") if refused else "",
    )


def _plain(gain: CohortGain, lookup: Lookup) -> str:
    """The plain difference with its range; '' where nobody was tested at the end."""
    if gain.raw_gain is None:
        return ""
    measure, scale = lookup.measures[gain.measure], lookup.mean_scale(gain.measure)
    amount = change_words(measure, scale, gain.raw_gain)
    if gain.raw_low is None or gain.raw_high is None:
        return amount
    return f"{amount} ({interval_words(measure, scale, gain.raw_low, gain.raw_high)})"


def _first_day(gain: CohortGain, lookup: Lookup) -> str:
    """That nobody can tell a poor first day from gain, and the gain if that was a normal day."""
    if gain.as_measured is None or gain.as_measured_low is None or gain.as_measured_high is None:
        return ""
    measure, scale = lookup.measures[gain.measure], lookup.mean_scale(gain.measure)
    amount = change_words(measure, scale, gain.as_measured)
    span = interval_words(measure, scale, gain.as_measured_low, gain.as_measured_high)
    return f"only one test at the start: {amount} ({span}) if that was a normal day"


def _positions(gain: CohortGain, lookup: Lookup) -> tuple[float, float, float]:
    """Gain and interval in typical errors of one test, better to the right."""
    value, low, high = gain.gain or 0.0, gain.low or 0.0, gain.high or 0.0
    step = lookup.typical_error(gain.measure, gain.line) or (high - low) / 2 or 1.0
    turn = -1.0 if lookup.measures[gain.measure].better == "lower" else 1.0
    ends = sorted((turn * low / step, turn * high / step))
    return turn * value / step, ends[0], ends[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class ForestPoint:
    """One estimate of one camp, in the unit shown."""

    camp: str
    kind: str
    value: float
    low: float | None
    high: float | None
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Forest:
    """Every camp's gain in one line: on its own, drawn to the others, and the plain difference."""

    title: str
    axis: str
    points: tuple[ForestPoint, ...]
    camps: tuple[str, ...]
    refused: tuple[str, ...]
    alt: str


KINDS = ("adjusted, leavers counted", "drawn towards the other camps", "plain exit minus intake")


def build_forest(gains: Iterable[CohortGain], measure: str, line: str, lookup: Lookup) -> Forest:
    """The forest of all camps in one line, in order of the camps' start."""
    own = [gain for gain in gains if (gain.measure, gain.line) == (measure, line)]
    order = {camp_id: camp.starts_on for camp_id, camp in lookup.camps.items()}
    own.sort(key=lambda gain: (str(order.get(gain.camp_id, "")), gain.camp_id))
    scale = lookup.scale(measure)
    points = tuple(point for gain in own for point in _forest_points(gain, lookup))
    camps = tuple(dict.fromkeys(point.camp for point in points))
    name = lookup.full_label(measure, line)
    words = "; ".join(f"{p.camp} {p.note}" for p in points if p.kind == KINDS[0])
    return Forest(
        title=f"{name}: gain per camp",
        axis=f"change from intake ({scale.unit or 'count'})",
        points=points,
        camps=camps,
        refused=tuple(
            f"{lookup.camp_label(gain.camp_id)}: {gain.reason}" for gain in own if gain.verdict == "refused"
        ),
        alt=f"{name}: gain of each camp with its range. {words}.",
    )


def _forest_points(gain: CohortGain, lookup: Lookup) -> list[ForestPoint]:
    if gain.verdict == "refused":
        return []
    scale, camp = lookup.mean_scale(gain.measure), lookup.camp_label(gain.camp_id)
    measure = lookup.measures[gain.measure]
    triples = (
        (KINDS[0], gain.gain, gain.low, gain.high),
        (KINDS[1], gain.shrunk_gain, gain.shrunk_low, gain.shrunk_high),
        (KINDS[2], gain.raw_gain, gain.raw_low, gain.raw_high),
    )
    points = []
    for kind, value, low, high in triples:
        if value is None:
            continue
        span = "" if low is None or high is None else f" ({interval_words(measure, scale, low, high)})"
        points.append(
            ForestPoint(
                camp=camp,
                kind=kind,
                value=scale.of(value),
                low=None if low is None else scale.of(low),
                high=None if high is None else scale.of(high),
                note=f"{change_words(measure, scale, value)}{span}",
            )
        )
    return points
