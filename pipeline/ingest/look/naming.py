"""Writes down whose the rows of an accepted look are before any build has read them."""

from __future__ import annotations

from pathlib import Path

from latewood.pipeline.ingest.build.settle import record_decision
from latewood.pipeline.ingest.files.mapping import Mapping, parse_mapping
from latewood.pipeline.ingest.files.reading import read_table
from latewood.pipeline.ingest.files.shape import Cells, cells_of
from latewood.pipeline.ingest.files.tidy import tidied
from latewood.pipeline.ingest.files.trace_cells import trace_cells
from latewood.pipeline.ingest.logs import decisions as decided
from latewood.pipeline.ingest.look.proposal import Proposal
from latewood.pipeline.ingest.program import load_program, program_catalogue


def name_rows(root: Path, import_id: str, content: bytes, proposal: Proposal, who: str) -> int:
    """Assign the rows of each name that the look settled; how many names. The next build reads these decisions.

    A row's id is that of its place in the file, so it is known before the build that would hold the row.
    """
    chosen = {n.text: n for n in proposal.names if n.chosen}
    if not chosen:
        return 0
    frame = _cells(root, content, proposal).frame
    assigned = decided.assignments(decided.read(root / "decisions.jsonl"))
    given = 0
    for text, name in chosen.items():
        rule = (
            "same_name"
            if len(name.candidates) > 1 and all(score == 100 for _, score in name.candidates)
            else ""
        )
        target = {"stage": "row", "argument": name.chosen, "rule": rule or "unknown_athlete"}
        rows = frame[frame["athlete_text"] == text]
        places = (
            f"{import_id}:{line}:{field}" for line, field in zip(rows["row_no"], rows["field"], strict=True)
        )
        targets = {place: target for place in places if assigned.get(place, ("", ""))[0] != name.chosen}
        if targets:
            answer = decided.Answer(
                action="assign", who=who, why=f"look: {name.reason}", argument=name.chosen
            )
            record_decision(root, answer, targets, load_program(root))
            given += 1
    return given


def _cells(root: Path, content: bytes, proposal: Proposal) -> Cells:
    catalogue, name = program_catalogue(root), proposal.file_name
    text = proposal.mapping_text
    mapping = parse_mapping(text, name, catalogue) if text else Mapping(kind=proposal.kind)
    table = tidied(name, read_table(name, content, mapping.options), mapping.form)
    if proposal.kind == "traces":
        return trace_cells(name, table, mapping, catalogue).cells
    return cells_of(name, table, mapping, catalogue)
