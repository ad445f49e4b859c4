"""What the look at a file shows: its columns, the values as they would be stored, and what is left out."""

from __future__ import annotations

from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.catalogue.units import UNITS
from latewood.pipeline.ingest.look.accept import Looked
from latewood.pipeline.ingest.look.earlier import GIVEN_IDS
from latewood.pipeline.ingest.look.proposal import ColumnLook, Proposal

FIELDS = {
    "athlete": "Athlete",
    "athlete_id": "Athlete's id",
    "measured_on": "Day",
    "measured_at": "Time of day",
    "value": "Number",
    "reps": "Repetitions",
    "bats": "Bats",
    "throws": "Throws with",
    "aliases": "Other names",
}


def title(proposal: Proposal) -> str:
    """The file, its sheet, what it seems to be and how it was read."""
    sheet = f", sheet {proposal.sheet}" if proposal.sheet else ""
    return f"{proposal.file_name}{sheet}: {proposal.kind}; {proposal.form}"


def column_rows(proposal: Proposal, catalogue: Catalogue) -> list[dict[str, str]]:
    """One row a column: what it is taken for, in what unit, how sure, why."""
    return [
        {
            "Column": c.header,
            "Taken as": _taken_as(c, catalogue),
            "Unit": _unit_of(c, catalogue),
            "How sure": c.certainty,
            "Why": c.reason,
        }
        for c in proposal.columns
    ]


def _taken_as(column: ColumnLook, catalogue: Catalogue) -> str:
    """What a column is taken for, in the words of the screens."""
    target, key = "Not used", column.target
    if column.role in ("measure", "computed"):
        target = catalogue.measures[key].label
    elif column.role == "condition":
        target = next(c.label for m in catalogue.measures.values() for c in m.conditions if c.key == key)
    elif key:
        target = FIELDS.get(key) or key.replace("_", " ").capitalize()
    return ", ".join([target, *(value for _, value in column.conditions)])


def _unit_of(column: ColumnLook, catalogue: Catalogue) -> str:
    """The unit of a column's numbers, and the one they are kept in where that is another."""
    if column.role not in ("measure", "computed"):
        return column.unit
    kept = UNITS[catalogue.measures[column.target].unit].shown
    if not kept:
        return ""
    given = column.unit or ("in each cell" if column.written == "number unit" else "not settled")
    return given if given == kept else f"{given}, kept in {kept}"


def sample_rows(proposal: Proposal) -> list[dict[str, str]]:
    """The first values as they would be stored."""
    stored = "Stored, if answered as proposed" if proposal.open else "Stored as"
    return [
        {
            "Athlete": s.athlete,
            "Day": s.day,
            "Measure": s.measure,
            stored: s.value,
            "Under": s.conditions,
        }
        for s in proposal.samples
    ]


def remarks(proposal: Proposal) -> list[str]:
    """Rows left out, names given to athletes, and notes."""
    lines = [f"Line {line} is left out: {text}" for line, text in proposal.dropped]
    lines += [f"{n.text} ({n.rows} values) is {n.chosen}: {n.reason}." for n in proposal.names if n.chosen]
    return [*lines, *proposal.notes]


def known_before(looked: Looked) -> bool:
    """Whether a file needs no look: its columns are the tool's own, or its mapping was accepted before."""
    return looked.ready and not any(
        p.columns or p.names or p.questions or GIVEN_IDS in p.mapping_text for p in looked.proposals
    )
