"""The first values of a file as they would be stored: whom, when, what, in the measure's own unit."""

from __future__ import annotations

from collections.abc import Sequence

from latewood.pipeline.catalogue.lookup import find_measure
from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.catalogue.units import find_unit, linear, parse_length
from latewood.pipeline.ingest.files.mapping import Mapping
from latewood.pipeline.ingest.files.shape import Cells
from latewood.pipeline.ingest.look.proposal import Known, NameLook, ValuePreview
from latewood.pipeline.warehouse.lookups import date_lookup, ids_of, reps_lookup

SHOWN = 5


def samples_of(
    cells: Cells, mapping: Mapping, known: Known, names: Sequence[NameLook]
) -> tuple[ValuePreview, ...]:
    """The first value of each column or measure, then others, up to five."""
    frame = cells.frame
    first = frame.drop_duplicates(["field", "measure_text"])
    rows = list(dict.fromkeys([*first.index, *frame.index[:SHOWN]]))[:SHOWN]
    chosen = {n.text: n.chosen for n in names}
    window = None if known.first_day is None or known.last_day is None else (known.first_day, known.last_day)
    every = [(t, mapping.date_format) for t in frame["date_text"].unique()]
    days = date_lookup(every, window).set_index("date_text")["on_date"].to_dict()
    samples = []
    for row in frame.loc[rows].to_dict("records"):
        text = {str(k): str(v) for k, v in row.items()}
        ids = ids_of(text["athlete_text"], known.names)
        who = ids[0] if len(ids) == 1 else chosen.get(text["athlete_text"], "")
        measure = find_measure(known.catalogue, text["measure_text"])
        conditions = cells.combinations[int(row["combination"])]
        samples.append(
            ValuePreview(
                athlete=known.shown.get(who, who) or f"{text['athlete_text']} (asked)",
                day=str(days.get(text["date_text"]) or f"{text['date_text']} (asked)"),
                measure=measure.label if measure else f"{text['measure_text']} (unknown)",
                value=_value(text, measure, mapping.decimal, known),
                conditions=", ".join(f"{k} {v}" for k, v in conditions.items()),
            )
        )
    return tuple(samples)


def _value(text: dict[str, str], measure: Measure | None, decimal: str, known: Known) -> str:
    """A value as stored, or as it came where it will be held."""
    raw = text["raw_value"]
    if measure is None or measure.kind == "rating":
        return raw
    unit = find_unit(text["raw_unit"]) if text["raw_unit"] else None
    try:
        number = float(raw.replace(",", ".") if decimal == "," else raw)
        symbol = unit.symbol if unit else measure.unit if len(measure.accepted_units) == 1 else ""
        factor = linear(symbol, measure.unit) if symbol in measure.accepted_units else None
    except ValueError:
        length = parse_length(raw)
        if length is None or measure.unit != "cm":
            return f"{raw} (held)"
        number, factor = length, 1.0
    if factor is None:
        return f"{raw} {text['raw_unit']} (held: unit)"
    reps = reps_lookup([(measure.key, text["reps_text"])], known.catalogue) if text["reps_text"] else None
    times = float(reps["factor"].iloc[0]) if reps is not None and len(reps) else 1.0
    shown = f"{number * factor * times:.{measure.decimals + 2}f}"
    return shown if measure.unit == "1" else f"{shown} {measure.unit}"
