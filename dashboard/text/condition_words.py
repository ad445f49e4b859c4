"""Why two ways of measuring are kept apart, in the words of the program's catalogue."""

from __future__ import annotations

from collections.abc import Iterable

from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.ingest.program import data_dir, program_catalogue


def why_apart(changed: Iterable[str]) -> str:
    """What the catalogue says of the conditions that changed, as sentences; '' of none."""
    wanted = set(changed)
    return meanings(program_catalogue(data_dir()), wanted) if wanted else ""


def meanings(catalogue: Catalogue, wanted: set[str]) -> str:
    """The meaning of each of these conditions, each once, in the catalogue's order."""
    known = {one.key: one.meaning for measure in catalogue.measures.values() for one in measure.conditions}
    return " ".join(meaning for key, meaning in known.items() if key in wanted)
