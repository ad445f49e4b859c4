"""What the look at a file shows: its columns, the values as they would be stored, and what is left out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from latewood.pipeline.catalogue.units import UNITS
from latewood.pipeline.ingest.look.accept import Looked
from latewood.pipeline.ingest.look.earlier import GIVEN_IDS
from latewood.pipeline.ingest.look.proposal import Proposal


def title(proposal: Proposal) -> str:
    """The file, its sheet, what it seems to be and how it was read."""
    sheet = f", sheet {proposal.sheet}" if proposal.sheet else ""
    return f"{proposal.file_name}{sheet}: {proposal.kind}; {proposal.form}"


def column_rows(proposal: Proposal, labels: Mapping[str, str]) -> list[dict[str, str]]:
    """One row a column: what it is taken for by its label, in what unit, how sure, why."""
    return [
        {
            "Column": c.header,
            "Taken as": ", ".join([_label(c.target, labels), *(v for _, v in c.conditions)]),
            "Unit": UNITS[c.unit].shown if c.unit in UNITS else c.unit,
            "How sure": c.certainty,
            "Why": c.reason,
        }
        for c in proposal.columns
    ]


_FIELD_WORDS: Final = {
    "athlete": "athlete", "measured_on": "day", "measured_at": "time of day", "trial": "trial", "reps": "repetitions",
    "unit": "unit", "measure": "measure", "value": "value", "athlete_id": "id", "birth_date": "birth date",
    "graduation_year": "graduation year",
}  # fmt: skip


def _label(target: str, labels: Mapping[str, str]) -> str:
    if not target:
        return "not used"
    return labels.get(target) or _FIELD_WORDS.get(target) or target.replace("_", " ")


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
