"""What the look at a file shows: its columns, the values as they would be stored, and what is left out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from latewood.pipeline.catalogue.units import UNITS
from latewood.pipeline.ingest.look.accept import Looked
from latewood.pipeline.ingest.look.earlier import GIVEN_IDS
from latewood.pipeline.ingest.look.proposal import Proposal

MOST_NAMED, MOST_LINES = 4, 20


def title(proposal: Proposal) -> str:
    """The file, its sheet, what it seems to be and how it was read."""
    sheet = f", sheet {proposal.sheet}" if proposal.sheet else ""
    return f"{proposal.file_name}{sheet}: {proposal.kind}; {proposal.form}"


def column_rows(proposal: Proposal, labels: Mapping[str, str]) -> list[dict[str, str]]:
    """What each column is taken for by its label, in what unit, how sure, why; neighbours that are alike in one row."""
    rows: list[dict[str, str]] = []
    for c in proposal.columns:
        told = {
            "Taken as": ", ".join([_label(c.target, labels), *(v for _, v in c.conditions)]),
            "Unit": UNITS[c.unit].shown if c.unit in UNITS else c.unit,
            "How sure": c.certainty,
            "Why": c.reason,
        }
        if rows and {**rows[-1], "Column": ""} == {"Column": "", **told}:
            rows[-1]["Column"] += f", {c.header}"
        else:
            rows.append({"Column": c.header, **told})
    return rows


def columns_title(proposal: Proposal) -> str:
    """How many columns there are, and which are not used."""
    unused = [c.header for c in proposal.columns if not c.target]
    shown = ", ".join(unused[:MOST_NAMED]) + (" …" if len(unused) > MOST_NAMED else "")
    return f"{len(proposal.columns)} columns, and why" + (f"; not used: {shown}" if unused else "")


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
    stored = "Stored, with the proposed or first answers" if proposal.open else "Stored as"
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
    """Rows left out, names given to athletes, and notes: a line for each reason."""
    given: dict[str, list[str]] = {}
    for name in proposal.names:
        if name.chosen:
            given.setdefault(name.reason, []).append(f"{name.text} ({name.rows} values) is {name.chosen}")
    lines = [f"{'; '.join(names)}: {reason}." for reason, names in given.items()]
    if proposal.dropped:
        dropped = [f"line {line} ({text})" for line, text in proposal.dropped]
        more = f" and {len(dropped) - MOST_LINES} more" if len(dropped) > MOST_LINES else ""
        lines.insert(0, f"Left out: {', '.join(dropped[:MOST_LINES])}{more}.")
    return [*lines, *proposal.notes]


def known_before(looked: Looked) -> bool:
    """Whether a file needs no look: its columns are the tool's own, or its mapping was accepted before."""
    return looked.ready and not any(
        p.columns or p.names or p.questions or GIVEN_IDS in p.mapping_text for p in looked.proposals
    )
