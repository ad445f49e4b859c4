"""`latewood measures --new`: a measure of the program's own, saved once nothing is missing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from latewood.pipeline.catalogue.lookup import find_measure
from latewood.pipeline.catalogue.own import FIELDS, ORIGIN, Draft, FieldFault, draft_of, entry_text, faults
from latewood.pipeline.errors import CatalogueError
from latewood.pipeline.ingest.own_measures import add_measure
from latewood.pipeline.ingest.program import program_catalogue


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What is printed, and whether the measure was saved."""

    saved: bool
    lines: tuple[str, ...]


def drafted(
    root: Path, name: str, like: str, settings: Sequence[str]
) -> tuple[Draft, tuple[FieldFault, ...]]:
    """The draft of a new measure and everything that is missing or wrong in it.

    Raises CatalogueError where there is no measure `like`, or a setting is no field=value.
    """
    catalogue = program_catalogue(root)
    model = find_measure(catalogue, like) if like else None
    if like and model is None:
        raise CatalogueError(f"{like}: no measure of that key or name; see `latewood measures`")
    draft = draft_of(name, dict(_pairs(settings)), model)
    return draft, faults(draft, catalogue)


def _pairs(settings: Iterable[str]) -> Iterable[tuple[str, str]]:
    for one in settings:
        field, equals, text = one.partition("=")
        if not equals or field.strip() not in FIELDS:
            raise CatalogueError(f"--set {one!r}: is no field=value; fields are {', '.join(FIELDS)}")
        yield field.strip(), text


def new_measure(root: Path, name: str, like: str, settings: Sequence[str], who: str) -> Outcome:
    """Save the entry where nothing is missing; else the template with every field that is missing or wrong."""
    draft, wrong = drafted(root, name, like, settings)
    if not wrong:
        add_measure(root, draft, who)
        note = f"saved in {root / ORIGIN}; it counts from the next import or build"
        return Outcome(saved=True, lines=(entry_text(draft), note))
    listed = (f"{fault.field}: {fault.text}" for fault in wrong)
    note = (
        "nothing is saved yet: give each with --set field=value; --like KEY lends the form of another measure"
    )
    return Outcome(saved=False, lines=(entry_text(draft, wrong), *listed, note))
