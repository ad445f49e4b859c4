"""The athletes of one camp with how their verdicts are spread, those with something clear first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from latewood.dashboard.reads.rows import JudgedRow, Stay, Tally
from latewood.dashboard.text.wording import among_many, expected_by_chance, full_day, joined
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.change.flags import clear_together

BETTER = ("clear gain", "clear rise")
LEVEL = 0.95  # of the verdicts, over a whole stay


@dataclass(frozen=True, slots=True, kw_only=True)
class RosterRow:
    """One athlete of the camp."""

    athlete_id: str
    name: str
    text: str
    beside: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Roster:
    """Athletes with a clear verdict, the others, and how many clear ones to expect by chance."""

    clear: tuple[RosterRow, ...]
    others: tuple[RosterRow, ...]
    by_chance: str
    together: str


def build_roster(
    stays: Sequence[Stay],
    tally: Sequence[Tally],
    verdicts: Sequence[JudgedRow],
    lookup: Lookup,
    *,
    standing_only: bool = False,
) -> Roster:
    """The roster of one camp: most losses first, then most gains, then by name.

    With `standing_only` those clear verdicts are counted that stand among all `verdicts` of the camp.
    """
    clear = [row.verdict.startswith("clear") for row in verdicts]
    stand = clear_together([row.z for row in verdicts], clear)
    if standing_only:
        tally = _standing(tally, [row for row, held in zip(verdicts, stand, strict=True) if held])
    counts = {row.athlete_id: row for row in tally}
    order = sorted(
        stays, key=lambda stay: (*_rank(counts.get(stay.athlete_id)), lookup.name(stay.athlete_id))
    )
    reported = [stay for stay in order if _rank(counts.get(stay.athlete_id)) < (0, 0)]
    return Roster(
        clear=tuple(_row(stay, counts.get(stay.athlete_id), lookup) for stay in reported),
        others=tuple(_row(stay, counts.get(stay.athlete_id), lookup) for stay in order[len(reported) :]),
        by_chance=expected_by_chance([(row.n_sessions, row.planned_sessions) for row in verdicts], LEVEL),
        together=among_many(sum(clear), sum(stand)),
    )


def _standing(tally: Sequence[Tally], stand: Sequence[JudgedRow]) -> list[Tally]:
    """The tally with the clear verdicts that do not stand counted as not clear."""
    gains = Counter(row.athlete_id for row in stand if row.verdict in BETTER)
    losses = Counter(row.athlete_id for row in stand if row.verdict not in BETTER)
    result = []
    for row in tally:
        gain, loss = gains[row.athlete_id], losses[row.athlete_id]
        unclear = row.n_unclear + row.n_gain + row.n_loss - gain - loss
        result.append(replace(row, n_gain=gain, n_loss=loss, n_unclear=unclear))
    return result


def _rank(row: Tally | None) -> tuple[int, int]:
    return (0, 0) if row is None else (-row.n_loss, -row.n_gain)


def _row(stay: Stay, row: Tally | None, lookup: Lookup) -> RosterRow:
    athlete = lookup.athletes.get(stay.athlete_id)
    who = [athlete.sport or "", athlete.positions or ""] if athlete is not None else []
    if stay.left_early and stay.left_on is not None:
        who.append(f"left early {full_day(stay.left_on)}")
    return RosterRow(
        athlete_id=stay.athlete_id,
        name=lookup.name(stay.athlete_id),
        text=_counts(row),
        beside=", ".join(part for part in who if part),
    )


def _counts(row: Tally | None) -> str:
    if row is None:
        return "no two comparable sessions yet"
    parts = [
        f"{row.n_loss} clear for the worse" if row.n_loss else "",
        f"{row.n_gain} clear for the better" if row.n_gain else "",
        f"{row.n_unclear} not clear yet" if row.n_unclear else "",
        f"{row.n_few} with too few sessions" if row.n_few else "",
    ]
    return f"{joined([part for part in parts if part])}; last test {full_day(row.last_on)}"
