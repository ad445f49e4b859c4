"""Makes the page of one athlete from record, consent and choice: pure, and the place where its rules are kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from latewood.pipeline.catalogue import handles
from latewood.pipeline.catalogue.heads import heads_of
from latewood.pipeline.catalogue.lookup import DAYS_PER_YEAR
from latewood.pipeline.catalogue.model import Better, Measure
from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.consent.agreed import Consent
from latewood.pipeline.ingest.consent.stated import LABELS, LONGEST, MARK
from latewood.pipeline.pages.record import (
    FAMILIES,
    PastRow,
    ProgramRecord,
    RosterAthlete,
    Value,
    may_be_shown,
)
from latewood.pipeline.pages.recruit import model
from latewood.pipeline.pages.recruit.standing import Pool, standing_of
from latewood.pipeline.pages.recruit.years import years_of
from latewood.pipeline.pages.words import (
    PrintScale,
    age_words,
    day,
    scale_of,
    set_words,
    shown_name,
    size_text,
    statistic_words,
    step_of,
)

MOST = 14
VALID_DAYS = 183
OLD_DAYS, OLD_DAYS_YOUNG, YOUNG = 365, 183, 16
_SIDES = {"R": "right", "L": "left", "S": "both sides"}
_SPORTS = {"baseball": "Baseball", "softball": "Softball"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What the program chose: measures (none: all agreed to, the first 14), units, whether to project.

    `stated` are the fields stated by the family (None: all whose own consents stand; one that does not is left out).
    """

    measures: tuple[str, ...] = ()
    units: str = "us"
    projection: bool = False
    stated: tuple[str, ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Line:
    measure: Measure
    values: Sequence[Value]  # of the line shown, in order of date
    others: Sequence[Value]  # of the same measure, measured in other ways


def available(record: ProgramRecord, athlete_id: str) -> tuple[str, ...]:
    """The measures of one athlete that could stand on a page, in reading order, whatever was agreed to."""
    return tuple(line.measure.key for line in _lines(record, athlete_id))


def allowed(record: ProgramRecord, athlete_id: str, consent: Consent) -> tuple[str, ...]:
    """The measures of one athlete that their consent covers."""
    return tuple(key for key in available(record, athlete_id) if consent.covers(key))


def make_summary(
    record: ProgramRecord, pool: Pool, athlete_id: str, consent: Consent, choice: Choice
) -> model.Summary:
    """Return the page of one athlete; what it is issued under (`signed`) and its hash are still to be added.

    Raises SummaryError where a chosen measure is not covered or not there, or nothing is left to show.
    """
    lines = _lines(record, athlete_id)
    chosen = _chosen(lines, consent, choice, record)
    athlete = record.athletes[athlete_id]
    granted = replace(choice, projection=choice.projection and consent.projection)
    shown = [_shown(record, pool, athlete, granted, line) for line in chosen]
    heads = _heads(athlete, consent, shown)
    shown = [one if one.key in heads.measures else replace(one, years=(), years_reason="") for one in shown]
    rank = {key: place for place, key in enumerate(heads.measures)}
    shown.sort(key=lambda one: (rank.get(one.key, len(rank)), bool(one.age_note)))  # else the order stays
    return model.Summary(
        schema=model.SCHEMA,
        units=choice.units,
        person=_person(record, athlete, consent, choice),
        heads=heads,
        measures=tuple(shown),
        available=len(lines),
        provenance=_provenance(record, consent),
    )


def signed(summary: model.Summary, serial: str, fingerprint: str) -> model.Summary:
    """The page with its serial and the fingerprint of the key that it is issued under."""
    issued = replace(summary.provenance, serial=serial, fingerprint=fingerprint)
    return replace(summary, provenance=issued)


def _lines(record: ProgramRecord, athlete_id: str) -> list[_Line]:
    """One line a measure: the one measured last, and of two on one day the one with more sessions.

    The values themselves play no part in the choice.
    """
    by_measure: dict[str, dict[str, list[Value]]] = {}
    for value in record.values.get(athlete_id, ()):
        by_measure.setdefault(value.measure, {}).setdefault(value.own_line, []).append(value)
    lines = []
    for key, ways in by_measure.items():
        measure = record.catalogue.measures[key]
        if may_be_shown(measure):
            last = max(ways.values(), key=lambda v: (v[-1].held_on, len(v), v[-1].own_line))
            others = [v for way in ways.values() if way is not last for v in way]
            lines.append(_Line(measure=measure, values=last, others=others))
    order = {key: position for position, key in enumerate(record.catalogue.measures)}
    return sorted(lines, key=lambda x: (FAMILIES.index(x.measure.family), order[x.measure.key]))


def _chosen(lines: Sequence[_Line], consent: Consent, choice: Choice, record: ProgramRecord) -> list[_Line]:
    by_key = {line.measure.key: line for line in lines}
    for key in choice.measures:
        if key not in record.catalogue.measures or not may_be_shown(record.catalogue.measures[key]):
            raise SummaryError(f"measure {key!r} never stands on a summary; see `latewood measures`")
        if not consent.covers(key):
            raise SummaryError(f"the consent does not cover {key!r}; leave it out or ask for a wider one")
    wanted = choice.measures or tuple(key for key in by_key if consent.covers(key))
    chosen = [by_key[key] for key in by_key if key in wanted]
    if not chosen:
        raise SummaryError("no measure is left to show: none is both measured and covered by the consent")
    if len(chosen) > MOST and choice.measures:
        raise SummaryError(f"{len(chosen)} measures do not fit on the sheet; choose at most {MOST}")
    if len(chosen) > MOST:  # the ones measured last, in reading order
        kept = sorted(chosen, key=lambda x: x.values[-1].held_on, reverse=True)[:MOST]
        chosen = [line for line in chosen if line in kept]
    return chosen


def _shown(
    record: ProgramRecord, pool: Pool, athlete: RosterAthlete, choice: Choice, line: _Line
) -> model.Shown:
    measure, latest = line.measure, line.values[-1]
    scale = scale_of(measure, choice.units)
    method = record.labels.get((measure.key, latest.own_line), "") or "no conditions stated"
    error = record.errors.get((measure.key, latest.line), measure.typical_error) or measure.typical_error
    growth, growth_reason = _growth(record, scale, line)
    years, years_reason = years_of(record, scale, line.values, line.others)
    standing, standing_reason = standing_of(pool, athlete, latest, measure, method)
    return model.Shown(
        key=measure.key,
        label=measure.label,
        unit=scale.unit,
        decimals=scale.decimals,
        better=str(measure.better),
        method=method,
        statistic=statistic_words(measure, latest.trials),
        latest=_session(latest, scale),
        best=_session(_best(measure, line.values), scale),
        sessions=len(line.values),
        trials=sum(v.trials for v in line.values),
        typical_error=None if error is None else scale.rounded(error),
        growth=growth,
        growth_reason=growth_reason,
        standing=standing,
        standing_reason=standing_reason,
        projection=_projection(record, scale, latest) if choice.projection else None,
        age_note=_age_note(latest.held_on, athlete.birth_date, record.today),
        earlier=_earlier(line),
        points=tuple(_session(v, scale) for v in line.values if v.stay_id == latest.stay_id),
        camp=shown_name(record.camp_of.get(latest.stay_id, "")),
        years=years,
        years_reason=years_reason,
    )


def _heads(athlete: RosterAthlete, consent: Consent, shown: Sequence[model.Shown]) -> model.Heads:
    """What stands large: fresh measures where there are any; the position counts only where it may be shown."""
    fresh = [one.key for one in shown if not one.age_note] or [one.key for one in shown]
    positions = (athlete.positions or "") if "positions" in consent.fields else ""
    heads = heads_of(athlete.sport or "", positions, fresh)
    return model.Heads(measures=heads.measures, chosen_for=heads.chosen_for, source=heads.source)


def _session(value: Value, scale: PrintScale) -> model.Session:
    return model.Session(
        held_on=value.held_on,
        typical=scale.rounded(value.value),
        best=scale.rounded(value.best),
        trials=value.trials,
        estimated_from=set_words(value.set_load, value.set_reps, scale),
    )


def _best(measure: Measure, values: Sequence[Value]) -> Value:
    """The session with the best single trial; of equal ones the earlier."""
    if measure.better is Better.LOWER:
        return min(values, key=lambda v: v.best)
    return max(values, key=lambda v: v.best)


def _growth(record: ProgramRecord, scale: PrintScale, line: _Line) -> tuple[model.Growth | None, str]:
    latest = line.values[-1]
    stay = [v for v in line.values if v.stay_id == latest.stay_id]
    if not latest.stay_id or len(stay) < 2:
        return None, "fewer than 2 comparable sessions in this stay"
    mixed = any(v.stay_id == latest.stay_id and v.line == latest.line for v in line.others)
    if mixed:
        return None, "the way of measuring changed during the stay"
    trend = record.trends.get((latest.athlete_id, latest.stay_id, latest.measure, latest.line))
    if (
        trend is None
        or trend.change is None
        or trend.fitted_start is None
        or trend.low is None
        or trend.high is None
    ):
        return None, "too few sessions for a trend"
    start, change = scale.rounded(trend.fitted_start - latest.shift), scale.rounded(trend.change)
    return (
        model.Growth(
            start=start,
            end=round(start + change, scale.decimals),
            change=change,
            words=step_of(scale, line.measure.better).words(change),
            low=scale.rounded(trend.low),
            high=scale.rounded(trend.high),
            level=trend.level,
            weeks=round(trend.weeks, 1),
            sessions=trend.sessions,
            estimated=sum(v.set_reps is not None for v in stay),
            first_on=trend.first_on,
            last_on=trend.last_on,
        ),
        "",
    )


def _projection(record: ProgramRecord, scale: PrintScale, latest: Value) -> model.Projected | None:
    """The nearest projection made from the latest session; one that lies behind us says nothing any more."""
    row = record.projections.get((latest.athlete_id, latest.measure, latest.line))
    if (
        row is None
        or row.target_on <= record.today
        or row.made_on < latest.held_on
        or latest.own_line != latest.line
    ):
        return None
    past = record.past.get(latest.measure, PastRow(scored=0, inside_95=None))
    return model.Projected(
        value=scale.rounded(row.value),
        low=scale.rounded(row.low),
        high=scale.rounded(row.high),
        level=row.level,
        target_on=row.target_on,
        made_on=row.made_on,
        past_scored=past.scored,
        past_inside=None if past.inside_95 is None else round(100 * past.inside_95),
    )


def _age_note(held_on: date, birth: date | None, today: date) -> str:
    days = (today - held_on).days
    young = birth is not None and (today - birth).days / DAYS_PER_YEAR < YOUNG
    return f"{age_words(days)} old" if days > (OLD_DAYS_YOUNG if young else OLD_DAYS) else ""


def _earlier(line: _Line) -> str:
    if not line.others:
        return ""
    apart = [v.held_on for v in line.others if v.line != line.values[-1].line]
    if apart:
        return f"also measured under other conditions, last on {day(max(apart))}: not comparable, not joined"
    last = max(v.held_on for v in line.others)
    return f"also measured in another way, last on {day(last)}: not in the best value or the change here"


def _person(record: ProgramRecord, athlete: RosterAthlete, consent: Consent, choice: Choice) -> model.Person:
    agreed = set(consent.fields)
    return model.Person(
        name=shown_name(consent.name_shown or athlete.display_name) or "name not printable",
        sport=_SPORTS.get(athlete.sport or "", ""),
        graduation_year=athlete.graduation_year if "graduation_year" in agreed else None,
        positions=shown_name((athlete.positions or "").replace("/", ", "), 30)
        if "positions" in agreed
        else "",
        bats=_SIDES.get(athlete.bats or "", "") if "sides" in agreed else "",
        throws=_SIDES.get(athlete.throws or "", "") if "sides" in agreed else "",
        sizes=tuple(
            size
            for field, key, label in (
                ("height", handles.STANDING_HEIGHT, "Height"),
                ("body_mass", handles.BODY_MASS, "Body mass"),
            )
            if field in agreed
            and (size := _size(record, athlete.athlete_id, key, label, choice.units)) is not None
        ),
        stated=_stated(consent, choice),
    )


def _stated(consent: Consent, choice: Choice) -> tuple[model.Stated, ...]:
    unknown = [one for one in choice.stated or () if one not in LABELS]
    if unknown:
        raise SummaryError(f"stated field {unknown[0]!r} is not one of {', '.join(LABELS)}")
    return tuple(
        model.Stated(
            field=one.field, label=LABELS[one.field], text=shown_name(one.text, LONGEST[one.field]),
            stated_on=one.stated_on, until=one.until, mark=MARK,
        )
        for one in consent.stated
        if choice.stated is None or one.field in choice.stated
    )  # fmt: skip


def _size(record: ProgramRecord, athlete_id: str, key: str, label: str, units: str) -> model.Dated | None:
    """The latest height or mass with its day; never a course over time."""
    values = [v for v in record.values.get(athlete_id, ()) if v.measure == key]
    if not values or key not in record.catalogue.measures:
        return None
    last = max(values, key=lambda v: v.held_on)
    scale = scale_of(record.catalogue.measures[key], units)
    value = scale.rounded(last.value)
    if scale.unit == "in":
        value = round(value, 1)
    return model.Dated(
        label=label, text=size_text(value, scale), value=value, unit=scale.unit, measured_on=last.held_on
    )


def _provenance(record: ProgramRecord, consent: Consent) -> model.Provenance:
    program = record.program
    return model.Provenance(
        program=shown_name(record.program_name),
        contact=shown_name(program.contact, 160) or shown_name(record.program_name),
        invented=record.invented,
        made_on=record.today,
        valid_until=min(consent.expires_on, record.today + timedelta(days=VALID_DAYS)),
        build_id=record.build_id,
        catalogue=record.catalogue_digest[:12],
        version=record.code_version,
        fingerprint="",
        serial="",
    )
