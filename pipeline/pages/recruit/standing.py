"""Where a value stands among athletes measured here in the same way, with the interval of that share."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from latewood.pipeline.catalogue.lookup import DAYS_PER_YEAR
from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.pages.record import ProgramRecord, RosterAthlete, Value
from latewood.pipeline.pages.recruit.model import AgeStanding
from latewood.pipeline.pages.words import count

MINIMUM = 20
LEVEL = 0.90
BANDS = ((12, 14), (15, 17), (18, 20))  # whole years, both ends counted
REFERENCE_YEARS = 3
Key = tuple[str, str, str, tuple[int, int]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pool:
    """The latest value of each athlete in each line, sport and age band, over the last years."""

    values: Mapping[Key, Mapping[str, float]]


def share_below(below: float, n: int, level: float = LEVEL) -> tuple[float, float, float]:
    """Return the share and its equal-tailed Jeffreys interval (Brown, Cai and DasGupta 2001), as shares of 1.

    >>> [round(100 * x) for x in share_below(27, 38)]
    [71, 58, 82]
    """
    from scipy.special import betaincinv  # here: commands that fit nothing do not wait for it

    tail = (1 - level) / 2
    low = float(betaincinv(below + 0.5, n - below + 0.5, tail)) if below > 0 else 0.0
    high = float(betaincinv(below + 0.5, n - below + 0.5, 1 - tail)) if below < n else 1.0
    return below / n, low, high


def band_of(birth: date | None, on: date) -> tuple[int, int] | None:
    """The age band of an athlete on a day; None where the age is not known or in no band."""
    if birth is None:
        return None
    age = int((on - birth).days / DAYS_PER_YEAR)
    return next((band for band in BANDS if band[0] <= age <= band[1]), None)


def make_pool(record: ProgramRecord) -> Pool:
    """Return the reference groups of a whole build."""
    since = record.today - timedelta(days=round(REFERENCE_YEARS * DAYS_PER_YEAR))
    groups: dict[Key, dict[str, float]] = defaultdict(dict)
    for athlete_id, values in record.values.items():
        athlete = record.athletes[athlete_id]
        for value in values:  # in order of date: the latest of a band stays
            band = band_of(athlete.birth_date, value.held_on)
            if band is not None and athlete.sport and value.held_on >= since:
                groups[value.measure, value.own_line, athlete.sport, band][athlete_id] = value.value
    return Pool(values=groups)


def standing_of(
    pool: Pool, athlete: RosterAthlete, latest: Value, measure: Measure, method: str
) -> tuple[AgeStanding | None, str]:
    """Return where the latest value stands among others, or None and why not."""
    band = band_of(athlete.birth_date, latest.held_on)
    if band is None or not athlete.sport:
        return None, "no group of this age and sport"
    group = pool.values.get((measure.key, latest.own_line, athlete.sport, band), {})
    others = [value for other, value in group.items() if other != athlete.athlete_id]
    if len(others) < MINIMUM:
        return None, f"{count(len(others), 'other')} measured like this, {MINIMUM} needed"
    worse = sum(measure.gain(v, latest.value) > 0 for v in others)
    ties = sum(v == latest.value for v in others)
    share, low, high = share_below(worse + ties / 2, len(others))
    ages = f"{band[0]}–{band[1]}"
    words = f"n = {len(others)} other {athlete.sport} athletes of this program aged {ages}, {method}"
    standing = AgeStanding(
        percentile=_shown(share), low=_shown(low), high=_shown(high), level=LEVEL,
        n=len(others), ages=ages, reference=words,
    )  # fmt: skip
    return standing, ""


def _shown(share: float) -> int:
    """A percentile from 1 to 99: 0 and 100 would claim what no group of this size can show."""
    return min(99, max(1, round(100 * share)))
