"""Makes the review of one camp from its record: pure, and the only place where its numbers are rounded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from latewood.pipeline.catalogue.model import Better, Measure
from latewood.pipeline.catalogue.units import display_unit, linear
from latewood.pipeline.pages.camp import model
from latewood.pipeline.pages.camp.breaks import method_breaks
from latewood.pipeline.pages.camp.groups import make_groups, weeks_in_camp
from latewood.pipeline.pages.camp.record import CampRecord, ChangeRow, StayRow
from latewood.pipeline.pages.camp.sentences import fair_sentences
from latewood.pipeline.pages.record import FAMILIES
from latewood.pipeline.pages.words import PrintScale, scale_of, shown_name
from latewood.pipeline.stats.change.results import CohortGain
from latewood.pipeline.stats.engine.group_means import FEWEST

MOST_SHEETS = 3
LEAST_MASS_KG = 0.3  # below it a gain divided by the mass gain is a number about nothing


def make_review(record: CampRecord, units: str = "us", lead: str = "") -> model.CampReview:
    """Return the review of the record's camp in 'us' or 'metric' units.

    `lead` names the measure the sentences and the first groups are about; by default the one of skill output with
    the most athletes in one line. The values themselves play no part in that choice.
    """
    shown = sorted(
        (row for row in record.gains if _has_place(record, row)),
        key=lambda row: FAMILIES.index(record.catalogue.measures[row.measure].family),
    )
    gains = tuple(_gain(record, row, units) for row in shown)
    leads = _leads(gains, lead)
    stays = {stay.stay_id: stay for stay in record.stays}
    today, camp = record.program.today(), record.camp
    left = [stay for stay in record.stays if stay.left_early]
    here = [stay for stay in record.stays if not stay.left_early and stay.left_on is None]
    running = today <= camp.ends_on
    return model.CampReview(
        schema=model.SCHEMA,
        units=units,
        program=shown_name(record.program_name),
        invented=record.invented,
        camp_id=camp.camp_id,
        label=shown_name(camp.label),
        starts_on=camp.starts_on,
        ends_on=camp.ends_on,
        running=running,
        enrolled=len(record.stays),
        finished=len(record.stays) - len(left) - (len(here) if running else 0),
        here=len(here) if running else 0,
        left_weeks=tuple(sorted(round(weeks_in_camp(stay, today), 1) for stay in left)),
        gains=gains,
        groups=tuple(_sheet(record, one, stays, units) for one in leads),
        breaks=method_breaks(record, [row.measure for row in shown], units),
        ratio=_ratio(record, leads[0], units) if leads else None,
        sentences=fair_sentences(leads[0] if leads else None, gains, shown_name(camp.label)),
        made_on=today,
        build_id=record.build_id,
        catalogue=record.catalogue_digest[:12],
        version=record.code_version,
    )


def _has_place(record: CampRecord, row: CohortGain) -> bool:
    measure = record.catalogue.measures.get(row.measure)
    return measure is not None and measure.family in FAMILIES and measure.better is not Better.NEITHER


def mean_scale(measure: Measure, units: str) -> PrintScale:
    """How changes and averages of a measure are written: never in whole units only."""
    scale = scale_of(measure, units)
    return replace(scale, decimals=max(1, scale.decimals))


def _method(record: CampRecord, row: CohortGain) -> str:
    """How the line was measured, and how many of its values were worked out from sets, not lifted."""
    label = record.labels.get((row.measure, row.line), "")
    known, estimated = record.estimated.get((row.measure, row.line), (0, 0))
    reported = (
        f"{estimated} of {known} values estimated from sets of several repetitions" if estimated else ""
    )
    return "; ".join(part for part in (label, reported) if part)


def _gain(record: CampRecord, row: CohortGain, units: str) -> model.Gain:
    measure = record.catalogue.measures[row.measure]
    scale = mean_scale(measure, units)
    verdicts = [one.verdict for one in record.changes if (one.measure, one.line) == (row.measure, row.line)]
    known = row.verdict == "estimated"

    def shown(value: float | None) -> float | None:
        return None if value is None else scale.rounded(value)

    error = record.errors.get((row.measure, row.line)) or measure.typical_error or 0.0
    return model.Gain(
        key=row.measure,
        line=row.line,
        label=measure.label,
        method=_method(record, row),
        family=measure.family,
        unit=scale.unit,
        decimals=scale.decimals,
        better=str(measure.better),
        enrolled=row.n_enrolled,
        measured=row.n_measured,
        with_exit=row.n_with_exit,
        left_early=row.n_left_early,
        weeks=None if row.weeks is None else round(row.weeks, 1),
        gain=shown(row.gain) if known else None,
        low=shown(row.low) if known else None,
        high=shown(row.high) if known else None,
        level=row.level,
        pulled=shown(row.shrunk_gain) if known else None,
        pulled_low=shown(row.shrunk_low) if known else None,
        pulled_high=shown(row.shrunk_high) if known else None,
        plain=shown(row.raw_gain) if row.n_with_exit >= FEWEST else None,
        camps_differ=row.camps_differ,
        reason=row.reason,
        how=row.method,
        step=error * scale.factor,
        clear_gain=verdicts.count("clear gain"),
        unclear=verdicts.count("not clear yet"),
        clear_loss=verdicts.count("clear loss"),
        too_few=verdicts.count("too few sessions"),
    )


def _leads(gains: Sequence[model.Gain], wanted: str) -> list[model.Gain]:
    """One line of each of the first families, the one with the most athletes; what is wanted first."""
    known = [one for one in gains if one.gain is not None]
    result = [one for one in known if wanted in {one.key, f"{one.key}|{one.line}"}]
    result = sorted(result, key=lambda one: -one.measured)[:1]
    for family in FAMILIES:
        own = [one for one in known if one.family == family]
        if own and not any(one.family == family for one in result):
            result.append(max(own, key=lambda one: one.measured))
    return result[:MOST_SHEETS]


def _sheet(record: CampRecord, gain: model.Gain, stays: dict[str, StayRow], units: str) -> model.GroupSheet:
    scale = mean_scale(record.catalogue.measures[gain.key], units)
    own: list[ChangeRow] = [one for one in record.changes if (one.measure, one.line) == (gain.key, gain.line)]
    return model.GroupSheet(
        key=gain.key,
        line=gain.line,
        label=gain.label,
        method=gain.method,
        unit=gain.unit,
        decimals=gain.decimals,
        better=gain.better,
        groups=make_groups(own, stays, scale, record.program.today()),
    )


def _ratio(record: CampRecord, gain: model.Gain, units: str) -> model.Ratio | None:
    """The number everybody asks for, to be shown struck through; None where mass or link is not known."""
    masses = [stay.gained for stay in record.stays if stay.gained is not None]
    row = next((one for one in record.gains if (one.measure, one.line) == (gain.key, gain.line)), None)
    link = record.links.get((gain.key, gain.line))
    if link is None or row is None or row.gain is None or len(masses) < FEWEST:
        return None
    mass = sum(masses) / len(masses)
    if abs(mass) < LEAST_MASS_KG:
        return None
    scale, unit = scale_of(record.catalogue.measures[gain.key], units), display_unit("kg", units)
    wide = replace(scale, decimals=scale.decimals + 1, factor=scale.factor / linear("kg", unit))
    reported = link.per_kg is not None and link.low is not None and link.high is not None
    return model.Ratio(
        label=gain.label,
        struck=wide.rounded(row.gain / mass),
        unit=f"{scale.unit} per {unit}".strip(),
        decimals=wide.decimals,
        per_mass=wide.rounded(link.per_kg or 0.0) if reported else None,
        low=wide.rounded(link.low or 0.0) if reported else None,
        high=wide.rounded(link.high or 0.0) if reported else None,
        level=link.level,
        n=link.n_athletes,
        reason=link.reason,
    )
