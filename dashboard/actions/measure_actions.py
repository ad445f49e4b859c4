"""Adding a measure of the program's own from the screen; asks for the right first."""

from __future__ import annotations

from collections.abc import Mapping

from latewood.dashboard.actions import rights
from latewood.pipeline.access import Viewer
from latewood.pipeline.catalogue.own import Draft, FieldFault, draft_of, faults
from latewood.pipeline.ingest.own_measures import add_measure
from latewood.pipeline.ingest.program import data_dir, program_catalogue


def draft(viewer: Viewer, label: str, given: Mapping[str, str]) -> tuple[Draft, tuple[FieldFault, ...]]:
    """The measure that the fields of the form describe, and all that is missing or wrong in it; nothing is saved."""
    rights.held(viewer, "import")
    made = draft_of(label, given)
    return made, faults(made, program_catalogue(data_dir()))


def save(viewer: Viewer, made: Draft, who: str) -> str:
    """Save a complete draft in measures.toml; what came of it, as text. Raises CatalogueError."""
    viewer = rights.held(viewer, "import")
    add_measure(data_dir(), made, viewer.signs(who))
    return (
        f"Saved: {made.table['label']} is a measure of this program. Files that name it are read from now on."
    )
