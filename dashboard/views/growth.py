"""What of a young athlete's added mass fits his growth in height, as a sentence for the head of the page."""

from __future__ import annotations

from collections.abc import Iterable

from dashboard.views.lookup import Lookup
from dashboard.wording import full_day, mass_scale
from pipeline.catalogue.handles import STANDING_HEIGHT
from pipeline.stats.results import GrowthShare


def growth_sentences(shares: Iterable[GrowthShare], stay_id: str, lookup: Lookup) -> tuple[str, ...]:
    """One sentence for the stay and one since the first height on record; a refusal where neither is given."""
    own = [share for share in shares if share.stay_id == stay_id]
    own.sort(key=lambda share: share.span != "stay")
    given = tuple(_given(share, lookup) for share in own if share.verdict == "shown")
    if given or not own:
        return given
    return (f"What fits growth is not shown: {own[-1].reason}.",)


def _given(share: GrowthShare, lookup: Lookup) -> str:
    mass = mass_scale(lookup.system)
    gained, fits = share.gained or 0.0, share.fits_growth or 0.0
    range_of = mass.interval(share.fits_low or 0.0, share.fits_high or 0.0)
    by_age = mass.change(share.by_age or 0.0)
    since = "In this stay" if share.span == "stay" else f"Since {full_day(share.first_on)}"
    taller = lookup.mean_scale(STANDING_HEIGHT).change(share.height_change or 0.0)
    if gained > 0.0 and 0.0 <= fits <= gained:
        said = f"of {mass.change(gained)} about {mass.change(fits)} fits growth in height and age"
    else:
        said = (
            f"mass changed by {mass.change(gained)}, growth in height and age fits about {mass.change(fits)}"
        )
    return f"{since} height changed by {taller}; {said} ({range_of}; by weight for age alone {by_age})."
