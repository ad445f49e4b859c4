"""Everything a build depends on: program, catalogue, imports, decisions, draws, and the code."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.ingest.code import code_version
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.ingest.logs import decisions as decided
from latewood.pipeline.ingest.logs.entered import all_imports
from latewood.pipeline.ingest.logs.joins import Joins, joins_in
from latewood.pipeline.ingest.logs.start_draws import StartDraw, read_log
from latewood.pipeline.ingest.program import Program, load_program, program_catalogue


@dataclass(frozen=True, kw_only=True)
class Inputs:
    """Everything a build depends on, and the id that follows from it."""

    program: Program
    catalogue: Catalogue
    imports: Sequence[landing.Manifest]
    decisions: Sequence[decided.Decision]
    draws: Sequence[StartDraw]
    decisions_digest: str

    @property
    def joins(self) -> Joins:
        """The ids that were joined into another."""
        return joins_in(self.decisions)

    @cached_property
    def code_version(self) -> str:
        """The version and the hash of the code, made when it is asked for too."""
        return code_version()

    @cached_property
    def landing_digest(self) -> str:
        """The hash over all imports: made when it is asked for, since who reads consents needs none."""
        return landing.landing_digest(self.imports)

    @cached_property
    def build_id(self) -> str:
        """Sixteen characters that change when any input does."""
        parts = (
            self.code_version,
            self.catalogue.digest,
            self.landing_digest,
            self.decisions_digest,
            self.program.text,
            *map(repr, self.draws),
        )
        return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:16]


def read_inputs(root: Path) -> Inputs:
    """Return what a build of this data folder would depend on."""
    imports = all_imports(root)
    made = decided.read(root / "decisions.jsonl")
    return Inputs(
        program=load_program(root),
        catalogue=program_catalogue(root),
        imports=imports,
        decisions=made,
        draws=read_log(root),
        decisions_digest=decided.digest(made),
    )
