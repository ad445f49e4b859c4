"""The catalogue: the built-in declarations, with a program's own laid over them."""

from __future__ import annotations

import hashlib
import json
import tomllib
from collections.abc import Mapping
from dataclasses import asdict
from functools import lru_cache
from importlib import resources
from types import MappingProxyType

from latewood.pipeline.catalogue.declare import (
    FIGURES,
    MEASURE_FIELDS,
    in_canonical_unit,
    known_unit,
    read_condition,
    read_measure,
)
from latewood.pipeline.catalogue.entry import Fault, TomlEntry
from latewood.pipeline.catalogue.lookup import (
    age_years,
    band_for,
    find_measure,
    line_label,
    line_of,
    names_of,
)
from latewood.pipeline.catalogue.model import Catalogue, Condition, Measure
from latewood.pipeline.catalogue.units import UNITS
from latewood.pipeline.errors import CatalogueError

__all__ = ["age_years", "band_for", "find_measure", "line_label", "line_of", "load_catalogue"]

BUILT_IN = "built-in measures.toml"
_SECTIONS = ("conditions", "measures")

Tables = Mapping[str, Mapping[str, object]]


@lru_cache(maxsize=8)  # a catalogue cannot be changed, and reading one takes 0.1 s
def load_catalogue(overrides: str | None = None, origin: str = "measures.toml") -> Catalogue:
    """The catalogue, with the text of a program's own TOML laid over it.

    In `overrides` a new key under [measures.…] or [conditions.…] adds an entry; a known key replaces the
    fields it gives and leaves the others. Figures are read in `stated_in` and kept in the measure's unit.
    `origin` names the text in errors. Raises CatalogueError with place, fault, what is accepted and the fix.
    """
    own = resources.files("latewood.pipeline.catalogue").joinpath("measures.toml").read_text(encoding="utf-8")
    base_conditions, base_measures = _sections(own, BUILT_IN)
    new_conditions, new_measures = _sections(overrides or "", origin)
    conditions = {
        key: read_condition(_entry("condition", key, base_conditions, new_conditions, origin))
        for key in {**base_conditions, **new_conditions}
    }
    measures = {
        key: _measure(key, base_measures, new_measures, conditions, origin)
        for key in {**base_measures, **new_measures}
    }
    _refuse_shared_names(measures, new_measures, origin)
    return Catalogue(
        measures=MappingProxyType(measures),
        digest=_digest(measures),
        overridden=tuple(
            key
            for key, measure in measures.items()
            if key in new_measures or any(c.key in new_conditions for c in measure.conditions)
        ),
    )


def _sections(text: str, origin: str) -> tuple[Tables, Tables]:
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        fault = str(error)
        raise CatalogueError(
            f"{origin}: not readable as TOML ({fault[:1].lower()}{fault[1:]}); correct it"
        ) from error
    for section in content:
        if section not in _SECTIONS:
            raise CatalogueError(
                f"{origin}: unknown table (got '{section}'; accepted: {', '.join(_SECTIONS)}); "
                f"write [measures.{section}] for a measure"
            )
    conditions, measures = (_tables(content.get(section, {}), section, origin) for section in _SECTIONS)
    return conditions, measures


def _tables(section: object, name: str, origin: str) -> Tables:
    if not isinstance(section, dict) or not all(isinstance(table, dict) for table in section.values()):
        raise CatalogueError(f"{origin}: {name} holds something that is no table; write [{name}.some_key]")
    return section


def _entry(kind: str, key: str, base: Tables, new: Tables, origin: str) -> TomlEntry:
    table = {**base.get(key, {}), **new.get(key, {})}
    return TomlEntry(origin=origin if key in new else BUILT_IN, kind=kind, key=key, table=table)


def _measure(
    key: str, base: Tables, new: Tables, conditions: Mapping[str, Condition], origin: str
) -> Measure:
    merged: dict[str, object] = {}
    if key in base:
        merged = _canonical(TomlEntry(origin=BUILT_IN, kind="measure", key=key, table=base[key]), None)
    if key in new:
        changed = TomlEntry(origin=origin, kind="measure", key=key, table=new[key])
        merged = {**merged, **_canonical(changed, base.get(key))}
        if "summary" in changed.table and not changed.has("keep") and merged["summary"] != "mean of best":
            merged.pop("keep", None)
    place = origin if key in new else BUILT_IN
    return read_measure(TomlEntry(origin=place, kind="measure", key=key, table=merged), conditions)


def _canonical(entry: TomlEntry, base: Mapping[str, object] | None) -> dict[str, object]:
    """The entry's table in the canonical unit; `base` is the built-in table it is laid over, if any."""
    entry.check_fields(MEASURE_FIELDS)
    if base is None:
        unit = known_unit(entry, "unit")
        return in_canonical_unit(entry, unit, _stated_in(entry, unit))
    unit = str(base["unit"])
    if entry.has("unit") and entry.text("unit") != unit:
        fix = "use stated_in for the figures, or add a measure under a new key"
        entry.refuse("unit", Fault("the unit of a built-in measure is fixed", entry.text("unit"), unit, fix))
    figures = [field for field in (*FIGURES, "bands") if entry.has(field)]
    if figures and not entry.has("stated_in") and "stated_in" in base:
        wrong, accepted = f"missing beside '{figures[0]}'", f"{unit}, {base['stated_in']}"
        entry.refuse("stated_in", Fault(wrong, None, accepted, "say in which unit the figures are"))
    return in_canonical_unit(entry, unit, _stated_in(entry, unit))


def _stated_in(entry: TomlEntry, unit: str) -> str:
    stated = known_unit(entry, "stated_in", unit)
    if UNITS[stated].quantity != UNITS[unit].quantity:
        entry.refuse(
            "stated_in", Fault("another quantity than the measure's unit", stated, unit, "correct it")
        )
    return stated


def _refuse_shared_names(measures: Mapping[str, Measure], new: Tables, origin: str) -> None:
    owner: dict[str, str] = {}
    # A program's own entries come last, so that the error names the one the program can change.
    for key in sorted(measures, key=lambda key: key in new):
        for name in names_of(measures[key]):
            other = owner.setdefault(name, key)
            if other != key:
                raise CatalogueError(
                    f"{origin if key in new else BUILT_IN}, measure '{key}', field 'label' or 'also': "
                    f"name already taken (got '{name}'; accepted: a name that '{other}' does not have); "
                    f"choose another"
                )


def _digest(measures: Mapping[str, Measure]) -> str:
    content = [asdict(measure) for measure in measures.values()]
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()
