"""Looking at dropped files and taking in what was settled; each asks for the right first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from latewood.dashboard.actions import following, rights
from latewood.dashboard.text.wording import count_of
from latewood.pipeline.access import Viewer
from latewood.pipeline.ingest.look.accept import Looked, accept, look_at
from latewood.pipeline.ingest.program import data_dir, program_catalogue

Files = Sequence[tuple[str, bytes]]


def look(viewer: Viewer, files: Files, answers: Mapping[str, str]) -> list[Looked]:
    """What files (name and content) seem to be, by the answers given so far; nothing is stored."""
    rights.held(viewer, "import")
    return look_at(data_dir(), files, answers)


def labels(viewer: Viewer) -> dict[str, str]:
    """The labels of the program's measures and conditions by key, also of those that no build knows yet."""
    rights.held(viewer, "import")
    measures = program_catalogue(data_dir()).measures.values()
    return {c.key: c.label for m in measures for c in m.conditions} | {m.key: m.label for m in measures}


def take(viewer: Viewer, looks: Sequence[Looked], who: str) -> list[str]:
    """Save the mappings of settled files and import them; what became of each, as text. The build follows by itself.

    A server that does not build by itself builds here. Raises LatewoodError where that fails, and then the published
    results stay as they were.
    """
    viewer = rights.held(viewer, "import")
    ready = [one for one in looks if one.ready]
    outcomes, refused = accept(data_dir(), ready, viewer.signs(who), build_after=not following.follows())
    if outcomes:
        following.soon()
    taken = [f"{one.file_name}: {one.kind}, {count_of(one.rows_in, 'row')}, {one.state}." for one in outcomes]
    return [*taken, *refused]
