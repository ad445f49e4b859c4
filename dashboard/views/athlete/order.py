"""The order of peaks in words: of one day, between days, and how far it repeats."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from latewood.dashboard.reads.rows import MovementDoubt
from latewood.dashboard.text.wording import count_of, full_day, joined, plain_number
from latewood.pipeline.stats.movement.results import OrderChange, OrderRepeatability, PeakOrder

MINUS = "\u2212"
NAMES = {
    "pelvis": "Pelvis", "torso": "Torso", "lead_arm": "Lead arm", "upper_arm": "Upper arm", "forearm": "Forearm",
    "hand": "Hand", "bat": "Bat",
}  # fmt: skip
SIDE_RULES = ("reversed_sensor", "all_reversed")
GIVEN, REFUSED = "given", "refused"


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderSheet:
    """What is said on order beside the days: changes as sentences, and how far the order repeats."""

    changes: tuple[dict[str, str], ...]  # rows of a table
    repeats: tuple[str, ...]


def arrows(part: str) -> str:
    """The segments of a part in words.

    >>> arrows("pelvis>lead_arm")
    'pelvis → lead arm'
    """
    return " → ".join(NAMES[s].lower() for s in part.split(">") if s)


def day_order(
    orders: Sequence[PeakOrder], doubts: Mapping[str, MovementDoubt]
) -> tuple[str, tuple[str, ...]]:
    """How often the segments of one day peaked in the order of the chain; no verdict over a reversed sensor."""
    doubted = [s for s in NAMES if s in doubts]
    if any(doubts[s].rule == "all_reversed" for s in doubted):
        return "No verdict on order: every channel runs backwards. Which side does the athlete use?", ()
    if doubted:
        names = joined([NAMES[s].lower() for s in doubted])
        return f"No verdict on order: {names} reversed, waiting for a decision.", ()
    full = next((o for o in orders if o.is_whole), None)
    if full is None:
        return "No verdict on order: fewer than two segments have times.", ()
    missing = [NAMES[s].lower() for s in full.missing.split(",") if s]
    remarks = [f"Not measured: {joined(missing)}."] if missing else []
    if full.verdict != GIVEN:
        return f"No verdict on order: {full.reason}.", tuple(remarks)
    pairs = [o for o in orders if not o.is_whole] or [full]
    remarks += [text for pair in pairs for text in _pair_remarks(pair)]
    if full.n < full.n_trials:
        remarks.append(
            f"{full.n_trials - full.n} of {full.n_trials} trials lack a segment and are not counted."
        )
    rest = [f"too close to tell in {full.n_together}"] * (full.n_together > 0)
    rest += [f"out of order in {full.n_out}"] * (full.n_out > 0)
    words = f"Order {arrows(full.part)} in {full.n_order} of {full.n}{_interval(full)}"
    return "; ".join([words, *rest]) + ".", tuple(remarks)


def _interval(order: PeakOrder) -> str:
    if order.low is None or order.high is None:
        return ""
    return f" (from these trials, {_percent(order.low)} to {_percent(order.high)} of the time)"


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _pair_remarks(pair: PeakOrder) -> list[str]:
    if pair.part.count(">") != 1:
        return []
    first, second = (NAMES[s] for s in pair.part.split(">"))
    result = []
    if pair.n_out:
        result.append(f"{second} peaks before {first.lower()} in trial {pair.out_trials.replace(',', ', ')}.")
    if pair.n_together:
        result.append(
            f"{first} and {second.lower()} peak together (within {pair.tie_ms or 0:.0f} ms) in {pair.n_together} "
            f"of {pair.n}."
        )
    return result


def build_order_sheet(
    changes: Iterable[OrderChange], repeats: Iterable[OrderRepeatability], orders: Sequence[PeakOrder]
) -> OrderSheet:
    """Changes of the latest day of each action, and the repeatability of the parts it has."""
    latest = {o.line: max(x.measured_on for x in orders if x.line == o.line) for o in orders}
    parts = {(o.line, o.part) for o in orders if o.verdict == GIVEN and o.measured_on == latest[o.line]}
    mine = sorted((one for one in repeats if (one.line, one.part) in parts), key=lambda o: not o.is_whole)
    return OrderSheet(
        changes=tuple(_change_row(one) for one in sorted(changes, key=_place)),
        repeats=(*(_repeat_words(one) for one in mine if one.verdict == GIVEN), *_refusals(mine)),
    )


def _place(one: OrderChange) -> tuple[str, str, bool, int]:
    """Since the first day before since the last, all before pairs, pairs from the ground up."""
    return one.line, one.since, not one.is_whole, list(NAMES).index(one.part.split(">")[0])


def _refusals(repeats: Sequence[OrderRepeatability]) -> list[str]:
    """What is not known, one sentence a reason."""
    reasons: dict[str, list[str]] = {}
    for one in repeats:
        if one.verdict == REFUSED:
            reasons.setdefault(one.reason, []).append(arrows(one.part))
    return [f"How far it repeats is not known ({why}): {', '.join(names)}." for why, names in reasons.items()]


def _change_row(one: OrderChange) -> dict[str, str]:
    words = f"Not compared: {one.reason}." if one.verdict == REFUSED else f"{_sized(one)}: {one.verdict}"
    return {
        "Order": f"{'All: ' if one.is_whole else ''}{arrows(one.part)}",
        "Since": f"{full_day(one.from_on)} ({'first day' if one.since == 'first' else 'day before'})",
        "Then": _in_order(one.share_from, one.n_from),
        "Now": _in_order(one.share_to, one.n_to),
        "Change in the share of trials in order": words,
    }


def _in_order(share: float | None, n: int) -> str:
    return "–" if share is None else f"{share * n:.0f} of {n}"


def _sized(one: OrderChange) -> str:
    low, high = one.low or 0.0, one.high or 0.0
    return f"{_points(one.difference or 0.0)} points ({_points(low)} to {_points(high)})"


def _points(share: float) -> str:
    full = round(100 * share)
    return f"{full:+d}".replace("-", MINUS) if full else "0"


def _repeat_words(one: OrderRepeatability) -> str:
    name = arrows(one.part)
    within = f"trials of one day agree {_alpha(one.within_day, one.within_low, one.within_high)}"
    across = f", days of one athlete {_alpha(one.across_days, one.across_low, one.across_high)}"
    reported = (
        across
        if one.across_days is not None
        else f"; {count_of(one.n_returning, 'athlete')} came twice: too few"
    )
    return f"{name}: {within}{reported} ({one.n_athletes} athletes, {one.n_trials} trials)."


def _alpha(value: float | None, low: float | None, high: float | None) -> str:
    span = (
        f" ({plain_number(low, 2)} to {plain_number(high, 2)})"
        if low is not None and high is not None
        else ""
    )
    return f"{plain_number(value or 0.0, 2)}{span}"
