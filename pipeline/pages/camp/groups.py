"""One camp by role, age, sex, time in camp and training group: single athletes always, a mean from eight on."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

from latewood.pipeline.catalogue.lookup import DAYS_PER_YEAR
from latewood.pipeline.pages.camp.model import CampPart, Single
from latewood.pipeline.pages.camp.record import ChangeRow, StayRow
from latewood.pipeline.pages.recruit.standing import BANDS
from latewood.pipeline.pages.words import PrintScale, shown_name
from latewood.pipeline.stats.engine.group_means import LEVEL, group_mean

EVERYBODY = "Everybody"
ROLE, AGE, SEX, TIME = "Main role", "Age at arrival", "Sex", "Time in camp"
TRAINED = "Training group"  # named by the program: never in what outsiders see
UNKNOWN = "not stated"
SHORT, LONG = 4.0, 8.0  # weeks
_ROLES = {
    "Pitchers": ("P", "RHP", "LHP", "SP", "RP"),
    "Catchers": ("C",),
    "Infielders": ("1B", "2B", "3B", "SS", "IF", "MIF", "CIF"),
    "Outfielders": ("OF", "LF", "CF", "RF"),
}
_SEXES = {"female": "Female", "male": "Male"}
_TIMES = (
    f"Here under {SHORT:.0f} weeks", f"Here {SHORT:.0f} to under {LONG:.0f} weeks", f"Here {LONG:.0f} weeks or more",
)  # fmt: skip
_AGES = tuple(f"{low}–{high} years" for low, high in BANDS)
KINDS = ("", ROLE, AGE, SEX, TIME, TRAINED)
RANKS = {
    name: rank
    for rank, name in enumerate((
        EVERYBODY,
        *_ROLES,
        "Other",
        *_AGES,
        "other ages",
        *_SEXES.values(),
        *_TIMES,
        UNKNOWN,
    ))
}


def rank_of(name: str) -> tuple[int, str]:
    """Where a part stands among those of its kind: never by its numbers, and what the program named itself by name."""
    return RANKS.get(name, len(RANKS)), name


def role_of(positions: str | None) -> str:
    """The part of the field of the first position named.

    >>> role_of("RHP/1B"), role_of("SS"), role_of(None), role_of("UT")
    ('Pitchers', 'Infielders', 'not stated', 'Other')
    """
    first = (positions or "").split("/")[0].strip().upper()
    if not first:
        return UNKNOWN
    return next((role for role, known in _ROLES.items() if first in known), "Other")


def age_band(birth: date | None, on: date) -> str:
    """The age band on a day, in whole years."""
    if birth is None:
        return UNKNOWN
    age = int((on - birth).days / DAYS_PER_YEAR)
    return next((f"{low}–{high} years" for low, high in BANDS if low <= age <= high), "other ages")


def weeks_in_camp(stay: StayRow, today: date) -> float:
    """Weeks from arrival to leaving, or to now, or to the planned end."""
    until = stay.left_on or min(today, stay.planned_until)
    return max(0, (until - stay.arrived_on).days) / 7.0


def time_band(weeks: float) -> str:
    """The band of time in camp.

    >>> time_band(3.9), time_band(4.0), time_band(8.0)
    ('Here under 4 weeks', 'Here 4 to under 8 weeks', 'Here 8 weeks or more')
    """
    return _TIMES[0] if weeks < SHORT else _TIMES[1] if weeks < LONG else _TIMES[2]


def make_groups(
    changes: Sequence[ChangeRow], stays: dict[str, StayRow], scale: PrintScale, today: date
) -> tuple[CampPart, ...]:
    """Return the groups of one line: everybody first, then each kind; kinds with one group only are left out."""
    own = [(change, stays[change.stay_id]) for change in changes if change.stay_id in stays]
    result = [_group("", EVERYBODY, own, scale, today)]
    for kind, name_of in _kinds(today):
        names = {name_of(stay) for _, stay in own}
        if len(names) < 2:
            continue
        ranked = sorted(names, key=rank_of)
        result += [
            _group(kind, name, [pair for pair in own if name_of(pair[1]) == name], scale, today)
            for name in ranked
        ]
    return tuple(result)


def _kinds(today: date) -> tuple[tuple[str, Callable[[StayRow], str]], ...]:
    return (
        (ROLE, lambda stay: role_of(stay.positions)),
        (AGE, lambda stay: age_band(stay.birth_date, stay.arrived_on)),
        (SEX, lambda stay: _SEXES.get(stay.sex or "", UNKNOWN)),
        (TIME, lambda stay: time_band(weeks_in_camp(stay, today))),
        (TRAINED, lambda stay: shown_name(stay.training_group or UNKNOWN)),
    )


def _group(
    kind: str, name: str, own: Sequence[tuple[ChangeRow, StayRow]], scale: PrintScale, today: date
) -> CampPart:
    known = [(change, stay) for change, stay in own if change.change is not None]
    mean = group_mean([change.change or 0.0 for change, _ in known])
    singles = (
        Single(
            change=scale.rounded(change.change or 0.0),
            weeks=round(weeks_in_camp(stay, today), 1),
            left_early=stay.left_early,
        )
        for change, stay in known
    )
    return CampPart(
        kind=kind,
        name=name,
        n=len(own),
        singles=tuple(sorted(singles, key=lambda one: (one.change, one.weeks))),
        mean=None if mean is None else scale.rounded(mean.mean),
        low=None if mean is None else scale.rounded(mean.low),
        high=None if mean is None else scale.rounded(mean.high),
        level=LEVEL,
    )
