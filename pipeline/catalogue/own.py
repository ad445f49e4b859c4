"""A program's own measure before it enters the catalogue: a draft, everything that is wrong in it, and its text."""

from __future__ import annotations

import json
import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from latewood.pipeline.catalogue.declare import FIGURES, MEASURE_FIELDS, read_measure
from latewood.pipeline.catalogue.entry import TomlEntry
from latewood.pipeline.catalogue.lookup import find_measure, plain
from latewood.pipeline.catalogue.model import Catalogue, Measure
from latewood.pipeline.catalogue.units import UNITS
from latewood.pipeline.errors import CatalogueError, CatalogueFieldError

ORIGIN: Final = "measures.toml"
NOT_KNOWN: Final = "not known yet"
UNKNOWABLE: Final = (
    "typical_error",
    "smallest_change",
)  # may be left out: the repeats of a program give them later
# Every field a new entry is asked for, in the order in which it is written.
ASKED: Final = (
    "label", "family", "unit", "accepted_units", "better", "resolution", "decimals", "hard_low", "hard_high",
    "trials", "summary", "summary_reason", "typical_error", "smallest_change", "protocol", "source",
)  # fmt: skip
FIELDS: Final = tuple(field for field in MEASURE_FIELDS if field not in ("stated_in", "bands"))
_LISTS = ("also", "accepted_units", "ratings", "conditions")
_WHOLE = ("decimals", "trials", "keep")
_NUMBERS = (*FIGURES, "minimum_age", "size_exponent")
# What another measure may lend: how a test is taken down, never what it is, where it comes from or how sure it is.
_LENT = (
    "family", "unit", "kind", "better", "resolution", "decimals", "hard_low", "hard_high", "trials", "rep_formula",
    "minimum_age",
)  # fmt: skip
_FAR = 1e12
_MOST_FAULTS = 60

Table = dict[str, object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A new measure as far as it is filled in: its key and its fields in the unit it will be kept in."""

    key: str
    table: Mapping[str, object]


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldFault:
    """What is missing or wrong in one field, with what is accepted and the fix."""

    field: str
    text: str


def key_of(label: str) -> str:
    """The key that a name gives.

    >>> key_of("Sled push, 20 yd"), key_of("60 yd dash")
    ('sled_push_20_yd', 'm_60_yd_dash')
    """
    bare = re.sub(r"[^a-z0-9]+", "_", label.casefold()).strip("_")
    return f"m_{bare}" if bare[:1].isdigit() else bare


def draft_of(label: str, given: Mapping[str, str], like: Measure | None = None) -> Draft:
    """A draft from fields as text: a measure lends the form of its test, and what is `given` goes over it.

    A typical error or smallest change that is blank or 'not known yet' is left out.
    """
    table: Table = {"label": label.strip(), **({} if like is None else _lent(like))}
    for field, text in given.items():
        if not text.strip() or (field in UNKNOWABLE and plain(text) == plain(NOT_KNOWN)):
            table.pop(field, None)
        else:
            table[field] = _value(field, text.strip())
    if "accepted_units" not in table and table.get("unit") in UNITS:
        table["accepted_units"] = [table["unit"]]
    step = table.get("resolution")
    if "decimals" not in table and isinstance(step, float) and 0 < step < math.inf:
        table["decimals"] = max(0, math.ceil(-math.log10(step) - 1e-9))
    return Draft(key=key_of(label), table=table)


def _lent(like: Measure) -> Table:
    lent: Table = {field: getattr(like, field) for field in _LENT}
    lent |= {"better": str(like.better), "summary": str(like.summary)}
    lent |= {"accepted_units": list(like.accepted_units), "conditions": [c.key for c in like.conditions]}
    if like.kind == "rating":
        lent |= {"ratings": list(like.ratings)}
        del lent["hard_low"], lent["hard_high"]
    if like.summary == "mean of best":
        lent["keep"] = like.keep
    return {field: value for field, value in lent.items() if value not in ("", [])}


def _value(field: str, text: str) -> object:
    """The value a text means in a field; the text itself where it means none, for the check to say so."""
    if field in _LISTS:
        return [one.strip() for one in text.split(",") if one.strip()]
    if field == "exported":
        return {"true": True, "yes": True, "false": False, "no": False}.get(text.casefold(), text)
    try:
        if field in _WHOLE:
            return int(text)
        return float(text.replace("\N{MINUS SIGN}", "-")) if field in _NUMBERS else text
    except ValueError:
        return text


def faults(draft: Draft, catalogue: Catalogue) -> tuple[FieldFault, ...]:
    """Everything that keeps a draft out of the catalogue, a line a field; by the checks of the catalogue itself.

    Each check stops at its first fault: the field is set to something harmless, and the check runs again.
    """
    result: dict[str, FieldFault] = {}
    key, table = draft.key, dict(draft.table)
    for _ in range(_MOST_FAULTS):
        try:
            _read(key, table, catalogue)
            break
        except CatalogueFieldError as error:
            field = error.field.partition(".")[0]
            result.setdefault(field, FieldFault(field=field, text=error.fault))
            if field == "key":
                key = "new"
            else:
                _set_harmless(table, field)
    for fault in _taken(draft, catalogue):
        result.setdefault(fault.field, fault)
    return tuple(sorted(result.values(), key=lambda one: _place(one.field)))


def _read(key: str, table: Table, catalogue: Catalogue) -> None:
    conditions = {c.key: c for measure in catalogue.measures.values() for c in measure.conditions}
    entry = TomlEntry(origin=ORIGIN, kind="measure", key=key, table=table)
    entry.check_fields(FIELDS)
    read_measure(entry, conditions)


def _place(field: str) -> int:
    return ASKED.index(field) if field in ASKED else -1 if field == "key" else len(ASKED)


def _set_harmless(table: Table, field: str) -> None:
    """Replace a field with a value that no check objects to, so that the next fault comes up."""
    accepted = table.get("accepted_units")
    units = [one for one in accepted if one in UNITS] if isinstance(accepted, list) else []
    harmless: Table = {
        "label": "new", "family": "build", "unit": units[0] if units else "1", "better": "neither", "resolution": 1.0,
        "decimals": 0, "hard_low": -_FAR, "hard_high": _FAR, "trials": 1, "summary_reason": "new",
        "summary": "mean of best" if "keep" in table else "median", "protocol": "new", "source": "new",
        "accepted_units": [table.get("unit")],
    }  # fmt: skip
    if table.get("kind") == "rating":
        harmless |= {"ratings": ["none", "some"], "unit": "rating"}
        del harmless["hard_low"], harmless["hard_high"]
    if table.get("summary") == "mean of best":
        harmless["keep"] = 1
    if field in harmless:
        table[field] = harmless[field]
    else:
        table.pop(field, None)


def _taken(draft: Draft, catalogue: Catalogue) -> tuple[FieldFault, ...]:
    """Names that another measure has already."""
    result = []
    also = draft.table.get("also")
    for field, names in (
        ("key", [draft.key]),
        ("label", [draft.table.get("label")]),
        ("also", also if isinstance(also, list) else []),
    ):
        for name in names:
            other = find_measure(catalogue, name) if isinstance(name, str) and name else None
            if other is not None:
                text = f"{name!r} is a name of {other.label} ({other.key}) already; use that measure or another name"
                result.append(FieldFault(field=field, text=text))
    return tuple(result)


def entry_text(draft: Draft, wrong: tuple[FieldFault, ...] = ()) -> str:
    """The entry in TOML as a person would write it; fields that are wrong or missing stand in it as remarks."""
    texts = {fault.field: fault.text for fault in wrong}
    lines = [f"[measures.{draft.key}]"]
    for field in (*ASKED, *(f for f in draft.table if f not in ASKED)):
        given = field in draft.table
        written = f"{field} = {_toml(draft.table[field])}" if given else f"{field} ="
        if field in texts:
            lines.append(f"# {written}  # {' '.join(texts[field].split())}")
        elif given:
            lines.append(written)
        elif field in UNKNOWABLE:
            lines.append(
                f"# {written}  # {NOT_KNOWN}: add it, in the measure's unit, once repeats have shown it"
            )
    return "\n".join(lines) + "\n"


def _toml(value: object) -> str:
    if isinstance(value, list):
        return f"[{', '.join(_toml(one) for one in value)}]"
    if isinstance(value, float) and math.isfinite(value):
        return f"{value:.15g}"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def with_entry(text: str, draft: Draft, catalogue: Catalogue) -> str:
    """A measures file with the draft added at its end; what was there stays as it is, byte by byte.

    Raises CatalogueError naming everything that is wrong in the draft.
    """
    wrong = faults(draft, catalogue)
    if wrong:
        listed = "; ".join(f"{fault.field}: {fault.text}" for fault in wrong)
        raise CatalogueError(f"measure {draft.key!r} is not complete: {listed}")
    gap = "" if not text else "\n" if text.endswith("\n") else "\n\n"
    result = f"{text}{gap}{entry_text(draft)}"
    if tomllib.loads(result)["measures"][draft.key] != dict(draft.table):
        raise CatalogueError(
            f"measure {draft.key!r} cannot be written as TOML; use plain letters in its texts"
        )
    return result
