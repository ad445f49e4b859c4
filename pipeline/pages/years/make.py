"""Sets the reviews of all camps beside each other: one line is one way of measuring, never joined without a bridge."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.consent.health import word_of_health
from latewood.pipeline.pages.camp.make import make_review
from latewood.pipeline.pages.camp.model import CampReview, Gain
from latewood.pipeline.pages.camp.outside import names_few, shown_gains, way_of
from latewood.pipeline.pages.camp.record import CampRecord, camp_ids, read_camp
from latewood.pipeline.pages.record import FAMILIES
from latewood.pipeline.pages.words import shown_name
from latewood.pipeline.pages.years.model import CampYear, YearLine, Years

NO_REASON, PERSONAL = "no reason stated", "personal"  # the second for whatever speaks of health


def read_years(root: Path, units: str = "us", camps: Sequence[str] = (), *, outside: bool = False) -> Years:
    """The camps of the published build; `camps` bounds them to some. Raises SummaryError where there is none."""
    wanted = [one for one in camp_ids(root) if not camps or one in camps]
    if not wanted:
        raise SummaryError("there is no camp to show; import a camps file")
    return make_years([read_camp(root, one) for one in wanted], units, outside=outside)


def make_years(records: Sequence[CampRecord], units: str = "us", *, outside: bool = False) -> Years:
    """Return the camps over the years, oldest first; for outsiders only what rests on at least eight athletes."""
    ordered = sorted(records, key=lambda one: (one.camp.starts_on, one.camp.camp_id))
    reviews = [make_review(one, units) for one in ordered]
    lines = _lines(reviews, outside=outside)
    newest = reviews[-1]
    return Years(
        units=units,
        program=newest.program,
        invented=newest.invented,
        outside=outside,
        camps=_camps(ordered, reviews, outside=outside),
        lines=tuple(one for one in lines if len(one.gains) > 1),
        once=tuple(
            f"{one.label}{f' ({one.method})' if one.method else ''}" for one in lines if len(one.gains) == 1
        ),
        made_on=newest.made_on,
        build_id=newest.build_id,
        catalogue=newest.catalogue,
        version=newest.version,
    )


def reason_of(text: str | None) -> str:
    """A reason for leaving as it is counted: one spelling, and nothing of health.

    >>> reason_of(" Family "), reason_of("knee surgery"), reason_of(None)
    ('family', 'personal', 'no reason stated')
    """
    plain = shown_name(text or "", 40).casefold()
    return PERSONAL if word_of_health(plain) else plain or NO_REASON


def _camps(
    records: Sequence[CampRecord], reviews: Sequence[CampReview], *, outside: bool
) -> tuple[CampYear, ...]:
    been: set[str] = set()
    result = []
    for record, review in zip(records, reviews, strict=True):
        here = {stay.athlete_id for stay in record.stays}
        left = [stay for stay in record.stays if stay.left_early]
        result.append(
            CampYear(
                camp_id=review.camp_id, label=review.label, starts_on=review.starts_on, ends_on=review.ends_on,
                running=review.running, enrolled=review.enrolled, finished=review.finished, left_early=len(left),
                reasons=dict(sorted(Counter(reason_of(stay.leave_reason) for stay in left).items())),
                came_back=len(here & been),
                changed=tuple(one for one in review.breaks if not (outside and names_few(one))),
            )
        )  # fmt: skip
        been |= here
    return tuple(result)


def _lines(reviews: Sequence[CampReview], *, outside: bool) -> list[YearLine]:
    kept: dict[tuple[str, str], dict[str, Gain]] = {}
    for review in reviews:
        gains = shown_gains(review) if outside else [one for one in review.gains if one.gain is not None]
        for one in gains:
            kept.setdefault((one.key, one.line), {})[review.camp_id] = one
    result = [_line(of, outside=outside) for of in kept.values()]
    # By kind of measure and by how many camps share the line: the numbers themselves play no part.
    families = {key: FAMILIES.index(next(iter(of.values())).family) for key, of in kept.items()}
    return sorted(result, key=lambda one: (families[one.key, one.line], -len(one.gains), one.label, one.line))


def _line(of: dict[str, Gain], *, outside: bool) -> YearLine:
    newest = list(of.values())[-1]
    method = way_of(newest.method)  # how many values were estimated differs by camp
    gains = {camp: replace(one, pulled=None, plain=None) for camp, one in of.items()} if outside else of
    return YearLine(
        key=newest.key, line=newest.line, label=newest.label, method=method, unit=newest.unit,
        decimals=newest.decimals, better=newest.better, camps_differ=newest.camps_differ, gains=gains,
    )  # fmt: skip
