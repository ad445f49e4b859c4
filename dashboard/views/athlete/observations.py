"""What coaches saw: one grid over time, and how far two raters agree, plainly and exactly."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from latewood.dashboard.reads.rows import Observation
from latewood.dashboard.text.wording import count_of, day, full_day, level_text, plain_number
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.catalogue.lookup import parse_line
from latewood.pipeline.stats.movement.results import RaterAgreement

FIRST_DAYS = 4  # columns at first sight; a phone shows no more
NOT_RATED = "–"
GIVEN = "given"


@dataclass(frozen=True, slots=True, kw_only=True)
class ObservationGrid:
    """The latest days, the whole course where there are more, and the agreement of raters."""

    latest: tuple[dict[str, str], ...]
    earlier: tuple[dict[str, str], ...]
    plain: str
    exact: tuple[str, ...]


def build_observations(
    seen: Iterable[Observation], agreements: Sequence[RaterAgreement], lookup: Lookup
) -> ObservationGrid:
    """One row per kind, one column per day, the oldest first; two words in a cell are two raters' of one day."""
    rows = [row for row in seen if row.measure in lookup.measures]
    days = sorted({row.observed_on for row in rows})
    earlier = days[:-FIRST_DAYS]
    mine = [one for one in agreements if one.measure in {row.measure for row in rows}]
    return ObservationGrid(
        latest=_grid(rows, days[-FIRST_DAYS:], lookup),
        earlier=_grid(rows, earlier, lookup) if earlier else (),
        plain=" ".join(filter(None, (_who(rows), _plain(mine)))) if rows else "",
        exact=tuple(_exact(one, lookup) for one in mine),
    )


def _grid(rows: Sequence[Observation], days: Sequence[date], lookup: Lookup) -> tuple[dict[str, str], ...]:
    lines = sorted({(r.measure, r.line) for r in rows}, key=lambda k: (lookup.measures[k[0]].position, k[1]))
    several = {measure for measure, _ in lines if sum(m == measure for m, _ in lines) > 1}
    result = []
    for measure, line in lines:
        words = ", ".join(parse_line(line).values()) if measure in several else ""
        name = f"{lookup.label(measure)} ({words})" if words else lookup.label(measure)
        mine = [r for r in rows if (r.measure, r.line) == (measure, line)]
        result.append({"What": name, **{full_day(on): _cell(mine, on) for on in days}})
    return tuple(result)


def _cell(rows: Iterable[Observation], on: date) -> str:
    there = sorted((r for r in rows if r.observed_on == on), key=lambda r: r.rater.lower())
    words = [r.rating for r in there]
    if len({r.rater.lower() for r in there}) < 2:
        words = list(dict.fromkeys(words))
    return f"{' / '.join(words)} ({day(on)})" if words else NOT_RATED  # a phone shows no heads of columns


def _who(rows: Iterable[Observation]) -> str:
    """Whose word stands first where two people rated one day; '' where nobody was rated by two."""
    cells: dict[tuple[str, str, date], set[str]] = {}
    for row in rows:
        cells.setdefault((row.measure, row.line, row.observed_on), set()).add(row.rater)
    several = {tuple(sorted(one, key=str.lower)) for one in cells.values() if len(one) > 1}
    if not several:
        return ""
    names = f": {' / '.join(*several)}" if len(several) == 1 else ""
    return f"Where more than one word stands, they are in the order of the raters' names{names}."


def _plain(agreements: Sequence[RaterAgreement]) -> str:
    if not agreements:
        return "How far two raters agree is not known: nobody was rated by two people on the same day."
    pairs, same = sum(a.n_pairs for a in agreements), sum(a.n_same for a in agreements)
    return (
        f"When two people of this program rated the same athlete on the same day, they chose the same word {same} of "
        f"{pairs} times."
    )


def _exact(one: RaterAgreement, lookup: Lookup) -> str:
    head = f"{lookup.label(one.measure)}, {one.rater_a} and {one.rater_b}: same word in {one.n_same} of {one.n_pairs}"
    if one.n_far:
        head += f", none against marked in {one.n_far}"
    if one.verdict != GIVEN or one.kappa is None or one.low is None or one.high is None:
        return f"{head}. No kappa: {one.reason}."
    span = f"{plain_number(one.low, 2)} to {plain_number(one.high, 2)}"
    return (
        f"{head}. Weighted kappa {plain_number(one.kappa, 2)} ({level_text(one.level)} range {span}; "
        f"{count_of(one.n_athletes, 'athlete')})."
    )
