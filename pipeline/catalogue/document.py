"""The catalogue as a page: what is measured, in which unit, how, and what may be compared with what."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.pipeline.catalogue.lookup import decimals_in
from latewood.pipeline.catalogue.model import FAMILIES, Band, Catalogue, Condition, Measure, SummaryRule
from latewood.pipeline.catalogue.units import UNITS, display_unit, linear

_INTRODUCTION = """\
# Measures

Written from `pipeline/catalogue/measures.toml` by `python -m latewood.pipeline.catalogue > docs/measures.md`; a test
compares this page with it. A program changes or adds entries in a `measures.toml` of its own data folder:
same fields, known keys replace the fields they give, new keys add a measure.

- Values are kept in the first unit under *unit*; where a US reader sees another, it follows in brackets.
- *Counts* is the number that stands for the session and enters the statistics; the best is kept beside it.
- Readings outside *limits* are held back. Plausible ranges only warn; they are common practice, no source.
- *Typical error* is the start value of the difference from session to session that is no change, also common
  practice, no source; it gives way to what a program's own repeat days show.
- Two numbers are compared only where all conditions under *must match* agree; one that a file leaves out
  reads "not stated" and is compared with "not stated" only. *Joined by paired days*: two lines may be joined
  through days on which the same athletes were measured both ways.
"""


def catalogue_markdown(catalogue: Catalogue) -> str:
    """The Markdown text of docs/measures.md: one table and the protocols per family, then the conditions."""
    parts = [_INTRODUCTION]
    for family, title in FAMILIES.items():
        measures = catalogue.of_family(family)
        if measures:
            parts += [f"## {title}\n", _overview(measures), *(_details(m) for m in measures)]
    parts += ["## Conditions\n", _conditions(catalogue)]
    return "\n".join(parts)


def _table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    lines = [head, tuple("---" for _ in head), *rows]
    return "".join(f"| {' | '.join(cells)} |\n" for cells in lines)


def _overview(measures: tuple[Measure, ...]) -> str:
    head = ("measure", "key", "unit", "better", "counts", "limits", "typical error", "must match")
    return _table(head, (_overview_row(m) for m in measures))


def _overview_row(measure: Measure) -> tuple[str, ...]:
    error = "–" if measure.typical_error is None else _amount(measure, measure.typical_error)
    return (
        measure.label,
        f"`{measure.key}`",
        _unit(measure),
        str(measure.better),
        _counts(measure),
        _limits(measure),
        error,
        ", ".join(c.label.lower() for c in measure.must_match) or "–",
    )


def _shown_unit(measure: Measure) -> str:
    return display_unit(measure.unit, "us")


def _unit(measure: Measure) -> str:
    own, shown = UNITS[measure.unit], UNITS[_shown_unit(measure)]
    if measure.kind == "rating":
        return "rating"
    return (own.shown or "count") if own is shown else f"{own.shown} ({shown.shown})"


def _counts(measure: Measure) -> str:
    if measure.trials == 1:
        return "the one trial" if measure.kind == "number" else "the rating"
    if measure.summary is SummaryRule.MEAN_OF_BEST:
        return f"mean of best {measure.keep} of {measure.trials}"
    return f"{measure.summary} of {measure.trials}"


def _trimmed(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _limits(measure: Measure) -> str:
    if measure.kind == "rating":
        return ", ".join(measure.ratings)
    return _span(measure, measure.hard_low, measure.hard_high)


def _span(measure: Measure, low: float, high: float) -> str:
    """Two edges in the measure's unit and, in brackets, in the one a US reader sees."""
    shown = _shown_unit(measure)
    own = " to ".join(_trimmed(edge, measure.decimals) for edge in (low, high))
    if shown == measure.unit:
        return own
    factor, decimals = linear(measure.unit, shown), decimals_in(measure, shown)
    return f"{own} ({' to '.join(_trimmed(edge * factor, decimals) for edge in (low, high))})"


def _amount(measure: Measure, value: float) -> str:
    """A small amount with its unit, one decimal finer than values, and in the unit a US reader sees."""
    shown = _shown_unit(measure)
    own = f"{_trimmed(value, measure.decimals + 1)} {UNITS[measure.unit].shown}".rstrip()
    if shown == measure.unit:
        return own
    there = value * linear(measure.unit, shown)
    return f"{own} ({_trimmed(there, decimals_in(measure, shown) + 1)} {shown})"


def _details(measure: Measure) -> str:
    facts = [
        f"- **Protocol.** {measure.protocol}",
        *([f"- **To families.** {measure.label}: {measure.plain}."] if measure.plain else []),
        f"- **Counts:** {_counts(measure)}. {measure.summary_reason}",
        f"- **Resolution:** {_amount(measure, measure.resolution)}." if measure.kind == "number" else "",
        f"- **Units accepted:** {', '.join(UNITS[u].shown or 'count' for u in measure.accepted_units)}."
        if measure.kind == "number"
        else "",
        f"- **Smallest change worth acting on:** {_amount(measure, measure.smallest_change)}."
        if measure.smallest_change is not None
        else "",
        f"- **Scales with body mass** to the power {measure.size_exponent:g} (published, adults)."
        if measure.size_exponent is not None
        else "",
        f"- **Also called:** {', '.join(measure.also)}." if measure.also else "",
        f"- **From age {measure.minimum_age:g} only.**" if measure.minimum_age else "",
        "- **Never exported.**" if not measure.exported else "",
        f"- **Also kept:** {_also_kept(measure)}." if _also_kept(measure) else "",
        *(f"- **Published, no target:** {one}." for one in measure.published),
        f"- **Source:** {measure.source}.",
    ]
    text = "\n".join(fact for fact in facts if fact)
    bands = f"\n{_bands(measure)}" if measure.bands else ""
    return f"### {measure.label}\n\n{text}\n{bands}"


def _also_kept(measure: Measure) -> str:
    return ", ".join(c.label.lower() for c in measure.conditions if not c.must_match)


def _bands(measure: Measure) -> str:
    unit, shown = measure.unit, _shown_unit(measure)
    title = UNITS[unit].shown if unit == shown else f"{UNITS[unit].shown} ({shown})"
    return _table(("plausible for", "age", title), (_band_row(measure, band) for band in measure.bands))


def _band_row(measure: Measure, band: Band) -> tuple[str, ...]:
    sport = "both" if band.sport == "any" else band.sport
    return sport, f"{band.age_low:g} to below {band.age_high:g}", _span(measure, band.low, band.high)


def _conditions(catalogue: Catalogue) -> str:
    used = {c.key: c for measure in catalogue.measures.values() for c in measure.conditions}
    head = ("condition", "key", "values", "must match", "joined by paired days", "meaning")
    return _table(head, (_condition_row(c) for c in used.values()))


def _condition_row(condition: Condition) -> tuple[str, ...]:
    must, joined = ("yes" if flag else "no" for flag in (condition.must_match, condition.bridgeable))
    values = ", ".join(condition.values)
    return condition.label, f"`{condition.key}`", values, must, joined, condition.meaning
