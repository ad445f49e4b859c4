"""What of a young athlete's added mass fits their growth in height, as a sentence for the head of the page."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.dashboard.text.wording import Scale, full_day, mass_scale
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.catalogue.handles import STANDING_HEIGHT
from latewood.pipeline.stats.growth.results import GrowthShare

APART_KG = 0.5  # conventions nearer than this say the same: about the error of what is measured
MORE = "The gain is more than growth fits either way."
LESS = "The gain is less than growth fits either way."
NOT_KNOWN = "Whether the gain is more or less than growth fits is not known."


def growth_sentences(shares: Iterable[GrowthShare], stay_id: str, lookup: Lookup) -> tuple[str, ...]:
    """One sentence for the stay and one since the first height on record; a refusal where neither is given."""
    own = [share for share in shares if share.stay_id == stay_id]
    own.sort(key=lambda share: share.span != "stay")
    given = tuple(_given(share, lookup) for share in own if share.verdict == "shown")
    if given or not own:
        return given
    return (f"What fits growth is not shown: {own[-1].reason}.",)


def _given(share: GrowthShare, lookup: Lookup) -> str:
    since = "In this stay" if share.span == "stay" else f"Since {full_day(share.first_on)}"
    taller = lookup.mean_scale(STANDING_HEIGHT).change(share.height_change or 0.0)
    mass = mass_scale(lookup.system)
    fits, by_age = share.fits_growth or 0.0, share.by_age or 0.0
    words = _apart(share, mass) if abs(fits - by_age) > APART_KG else _alike(share, mass)
    return f"{since} height changed by {taller}; {words}"


def _alike(share: GrowthShare, mass: Scale) -> str:
    """Both conventions say the same."""
    gained, fits = share.gained or 0.0, share.fits_growth or 0.0
    range_of = mass.interval(share.fits_low or 0.0, share.fits_high or 0.0)
    by_age = mass.change(share.by_age or 0.0)
    if gained > 0.0 and 0.0 <= fits <= gained:
        words = f"of {mass.change(gained)} about {mass.change(fits)} fits growth in height and age"
    else:
        words = (
            f"mass changed by {mass.change(gained)}, growth in height and age fits about {mass.change(fits)}"
        )
    return f"{words} ({range_of}; by weight for age alone {by_age})."


def _apart(share: GrowthShare, mass: Scale) -> str:
    """The conventions differ: both are given, and a side is taken only where both take it."""
    fits, by_age = share.fits_growth or 0.0, share.by_age or 0.0
    low, high = sorted((fits, by_age))
    return (
        f"mass changed by {mass.change(share.gained or 0.0)}, growth in height and age fits between "
        f"{mass.change(low)} and {mass.change(high)}. Two published readings differ: {mass.change(fits)} keeps the "
        f"percentile of body mass index for age at the height now reached, {mass.change(by_age)} that of weight "
        f"for age. {_side(share)}"
    )


def _side(share: GrowthShare) -> str:
    by_age = share.by_age or 0.0
    beyond_age_low, beyond_age_high = (share.gained_low or 0.0) - by_age, (share.gained_high or 0.0) - by_age
    if (share.beyond_low or 0.0) > 0.0 and beyond_age_low > 0.0:
        return MORE
    if (share.beyond_high or 0.0) < 0.0 and beyond_age_high < 0.0:
        return LESS
    return NOT_KNOWN
