"""The form for a measure of the program's own: its fields, their words, and what is wrong in them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from latewood.pipeline.catalogue.model import FAMILIES, Better, SummaryRule
from latewood.pipeline.catalogue.own import NOT_KNOWN, FieldFault
from latewood.pipeline.catalogue.units import UNITS
from latewood.pipeline.ingest.look.columns import UNKNOWN_MEASURE
from latewood.pipeline.ingest.look.proposal import Proposal


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field of the form: the catalogue's name, its label, and the words to choose from; none where it is typed."""

    name: str
    label: str
    choices: tuple[str, ...] = ()
    hint: str = ""
    long: bool = False


FIELDS: Final = (
    Field(name="family", label="Family", choices=tuple(FAMILIES)),
    Field(name="unit", label="Unit", choices=tuple(UNITS)),
    Field(name="better", label="Which way is better", choices=tuple(Better)),
    Field(name="resolution", label="Smallest step of the instrument", hint="0.01"),
    Field(name="hard_low", label="Impossible below", hint="values below are held"),
    Field(name="hard_high", label="Impossible above", hint="values above are held"),
    Field(name="trials", label="Trials a day", hint="2"),
    Field(name="summary", label="Value of the day", choices=tuple(one for one in SummaryRule if one != "mean of best")),
    Field(name="typical_error", label="Typical error", hint=NOT_KNOWN),
    Field(name="smallest_change", label="Smallest change that matters", hint=NOT_KNOWN),
    Field(name="summary_reason", label="Why this value of the day", long=True),
    Field(name="protocol", label="How the test is done", long=True),
    Field(name="source", label="Source of these figures", hint="own practice, no source", long=True),
    Field(name="also", label="Other names in files, with commas", long=True),
)  # fmt: skip
SHORT: Final = tuple(field for field in FIELDS if not field.long)
LONG: Final = tuple(field for field in FIELDS if field.long)
_LABELS: Final = {
    **{f.name: f.label for f in FIELDS}, "label": "Name", "key": "Name", "decimals": "Smallest step of the instrument",
    "accepted_units": "Unit",
}  # fmt: skip


def word_of(choice: str) -> str:
    """A choice as it is shown.

    >>> word_of("jump_power"), word_of("1"), word_of("mph")
    ('Jump and power', 'count', 'mph')
    """
    return FAMILIES.get(choice, "count" if choice == "1" else choice)


def fault_lines(wrong: Iterable[FieldFault]) -> list[str]:
    """One line a field that is missing or wrong, by its label on the form."""
    lines: dict[str, str] = {}
    for fault in wrong:
        label = _LABELS.get(fault.field, fault.field)
        text = "is not filled in" if fault.text.startswith("missing") else fault.text
        lines.setdefault(label, f"{label}: {text}")
    return list(lines.values())


def unknown_columns(proposal: Proposal) -> list[str]:
    """The headers of columns that no measure is known for."""
    named = [c.header for c in proposal.columns if c.reason == UNKNOWN_MEASURE and c.header.strip()]
    return [*named, *proposal.unnamed]
