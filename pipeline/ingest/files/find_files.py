"""Finds the files to import, and the mapping written for each."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from latewood.pipeline.catalogue.model import Catalogue
from latewood.pipeline.errors import FileUnreadableError, MappingError
from latewood.pipeline.ingest.files.mapping import Mapping, parse_mapping
from latewood.pipeline.ingest.files.reading import EXCEL_SUFFIXES, read_table
from latewood.pipeline.ingest.files.shape import plain
from latewood.pipeline.ingest.people.hands import hand_by_roster

SUFFIXES = (".csv", ".txt", ".tsv", *EXCEL_SUFFIXES, ".c3d", ".sto", ".mot")


def find_files(paths: Sequence[Path]) -> list[Path]:
    """The files named, and those of the folders named, in order. Raises FileUnreadableError where there is none."""
    result: list[Path] = []
    for path in paths:
        if path.is_dir():
            result += sorted(
                p
                for p in path.rglob("*")
                if p.suffix.lower() in SUFFIXES and not p.name.startswith((".", "~"))
            )
        elif path.exists():
            result.append(path)
        else:
            raise FileUnreadableError(f"{path}: there is no such file; check the path")
    if not result:
        raise FileUnreadableError(f"{', '.join(map(str, paths))}: holds no {', '.join(SUFFIXES)} file")
    return result


def read_mapping(path: Path, catalogue: Catalogue) -> Mapping:
    """The mapping that a file states. Raises MappingError."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise MappingError(
            f"{path.name}: cannot be read ({error}); give the path of a mapping file"
        ) from error
    return replace(parse_mapping(text, path.name, catalogue), file=path.name)


def find_mappings(root: Path, path: Path, catalogue: Catalogue) -> list[Mapping]:
    """The mappings for a file: by its name, in the data folder, in a folder `mappings` or beside it; else by headers.

    Several only where each reads another sheet of the workbook. Raises MappingError where two would read the same.
    """
    folders = (root / "mappings", path.parent / "mappings", path.parent)
    for folder in folders:
        candidates = (c for c in sorted(folder.glob("*.toml")) if folder != path.parent or _is_mapping(c))
        fitting = [m for m in (read_mapping(c, catalogue) for c in candidates) if m.matches(path.name)]
        if len({_table_of(m) for m in fitting}) < len(fitting):
            names = ", ".join(repr(m.name) for m in fitting)
            raise MappingError(
                f"{path.name}: {len(fitting)} mappings fit it ({names}); narrow applies_to or give --mapping"
            )
        if fitting:
            return fitting
    return _by_headers(root, path, catalogue)


def _by_headers(root: Path, path: Path, catalogue: Catalogue) -> list[Mapping]:
    """The mappings of the data folder whose `headers` are those of the file, one for each sheet."""
    fitting: dict[tuple[str, int], Mapping] = {}
    for candidate in sorted((root / "mappings").glob("*.toml")):
        mapping = read_mapping(candidate, catalogue)
        fits = mapping.headers and _table_of(mapping) not in fitting and fits_headers(path, mapping)
        if fits and _is_of_hand(root, path, mapping):
            fitting[_table_of(mapping)] = mapping
    return list(fitting.values())


def _table_of(mapping: Mapping) -> tuple[str, int]:
    """Which table of a file a mapping reads: its sheet, and which of those below each other."""
    return mapping.options.sheet, mapping.options.part


def fits_headers(path: Path, mapping: Mapping) -> bool:
    """Whether a file, read as the mapping says, has exactly the headers that the mapping was written for.

    A mapping of traces that reads fields from the file's name fits only a name of that form.
    """
    try:
        mapping.trace.named(path.name)
        table = read_table(path.name, path.read_bytes(), mapping.options)
    except (FileUnreadableError, OSError):
        return False
    return {plain(h) for h in table.headers} == {plain(h) for h in mapping.headers}


def _is_of_hand(root: Path, path: Path, mapping: Mapping) -> bool:
    """Whether a trial is of somebody with the hand that a mapping is for, by the roster of the published build."""
    if not mapping.trace.hand:
        return True
    who = mapping.trace.named(path.name).get("athlete", "")
    if not who:
        table = read_table(path.name, path.read_bytes(), mapping.options)
        who = str(table.frame[mapping.columns["athlete"]].iloc[0])
    return hand_by_roster(root, who, mapping.conditions.get("action", "")) == mapping.trace.hand


def _is_mapping(path: Path) -> bool:
    """Whether a TOML file that happens to lie beside a data file says which files it is for."""
    try:
        return "applies_to" in tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError):
        return False
