"""Imports damaged files by the thousand: no crash, and every row that came in is taken, held or rejected."""

from __future__ import annotations

import csv
import io
import random
import shutil
import traceback
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import openpyxl

from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.actions import ImportOutcome, land_files
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.files.find_files import find_mappings
from latewood.pipeline.ingest.files.reading import decode
from latewood.pipeline.ingest.program import prepare_folder, program_catalogue
from latewood.pipeline.warehouse.connection import open_published
from tests.reliability.mutate import damaged

SOURCE = Path(__file__).parents[2] / "seed_data"
PEOPLE = ("roster.csv", "camps.csv", "stays.csv")
KEPT_LINES = 30
BATCH = 200
TRACE_MAPPING = """
name = "Raw traces"
applies_to = "traces_*.csv"
kind = "traces"
layout = "wide"
[columns]
athlete = "athlete"
measured_on = "day"
trial = "rep"
time = "t"
event = "mark"
[[values]]
measure = "pelvis_peak_speed"
columns = ["pelvis"]
unit = "deg/s"
[[values]]
measure = "torso_peak_speed"
columns = ["torso"]
unit = "deg/s"
"""


@dataclass
class FuzzResult:
    """What became of the files: counts of files and rows, and everything that should not have happened."""

    files: int = 0
    refused: int = 0
    taken: int = 0
    rows_in: int = 0
    rows_taken: int = 0
    rows_held: int = 0
    rows_recognised: int = 0
    rows_rejected: int = 0
    counted_apart: int = 0
    crashes: list[str] = field(default_factory=list)
    losses: list[str] = field(default_factory=list)


def corpus() -> list[tuple[str, bytes]]:
    """The demo's files, cut to their first lines, and a file of traces."""
    result = []
    for path in sorted((SOURCE / "files").iterdir()):
        content = path.read_bytes()
        if path.suffix != ".xlsx":
            content = b"\n".join(content.split(b"\n")[: KEPT_LINES + 1]) + b"\n"
        if len(content) < 60_000:
            result.append((path.name, content))
    return [*result, *(("traces_F.csv", _traces()),) * 6]


def _traces() -> bytes:
    rows = ["athlete,day,rep,t,mark,pelvis,torso"]
    t = np.arange(0, 0.8, 1 / 100)
    roster = (SOURCE / "files" / "roster.csv").read_text(encoding="utf-8").split("\n")[1:3]
    for line in roster:
        for rep in (1, 2):
            pelvis = 500 * np.exp(-(((t - 0.4) / 0.06) ** 2))
            torso = 800 * np.exp(-(((t - 0.45) / 0.06) ** 2))
            rows += [
                f"{line.split(',')[0]},2033-06-16,{rep},{s:.3f},{'contact' if s == t[50] else ''},{a:.1f},{b:.1f}"
                for s, a, b in zip(t, pelvis, torso, strict=True)
            ]
    return ("\n".join(rows) + "\n").encode()


def prepared(folder: Path) -> Path:
    """A data folder with the demo's people, camps and mappings."""
    root = folder / "data"
    prepare_folder(root)
    shutil.copy(SOURCE / "program.toml", root / "program.toml")
    for mapping in (SOURCE / "mappings").glob("*.toml"):
        shutil.copy(mapping, root / "mappings" / mapping.name)
    (root / "mappings" / "traces.toml").write_text(TRACE_MAPPING, encoding="utf-8")
    land_files(root, [SOURCE / "files" / name for name in PEOPLE], "fuzz")
    return root


def fuzz(folder: Path, files: int, seed: int, tell: Callable[[str], None] = lambda _: None) -> FuzzResult:
    """Damage and import so many files, in batches that are built, and return what was seen."""
    base, full, result = prepared(folder), corpus(), FuzzResult()
    for start in range(0, files, BATCH):
        root = folder / "batch"
        shutil.copytree(base, root)
        numbers = range(start, min(start + BATCH, files))
        landed = [
            one for n in numbers if (one := _import_one(folder, root, full, seed, n, result)) is not None
        ]
        _build_and_count(root, landed, result)
        shutil.rmtree(root)
        tell(f"{result.files} files, {len(result.crashes)} crashes, {len(result.losses)} losses")
    return result


def made(whole: Sequence[tuple[str, bytes]], seed: int, number: int) -> tuple[str, bytes]:
    """The damaged file of one number; the same every time."""
    rng = random.Random(f"{seed}/{number}")
    return damaged(rng, *rng.choice(whole))


def _import_one(
    folder: Path, root: Path, whole: Sequence[tuple[str, bytes]], seed: int, number: int, result: FuzzResult
) -> str | None:
    name, content = made(whole, seed, number)
    path = folder / "inbox" / str(number) / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content)
    result.files += 1
    try:
        outcome = land_files(root, [path], "fuzz")[0]
    except LatewoodError as error:
        result.refused += 1
        words = str(error)
        if not words.startswith(name) or "\n" in words:
            result.crashes.append(
                f"{number} {name}: the refusal does not name the file in one line: {words[:200]}"
            )
        return None
    except Exception:  # noqa: BLE001  whatever comes is what is looked for
        result.crashes.append(f"{number} {name}: {traceback.format_exc(limit=-3)}")
        return None
    result.taken += 1
    expected = counted_apart(root, path, content, outcome)
    if expected is not None:
        result.counted_apart += 1
        if expected != outcome.rows_in:
            result.losses.append(
                f"{number} {name}: {expected} rows by another count, {outcome.rows_in} came in"
            )
    return outcome.import_id


def counted_apart(root: Path, path: Path, content: bytes, outcome: ImportOutcome) -> int | None:
    """How many rows the file holds, counted without the code under test; None where it is not known simply."""
    mapping = next(iter(find_mappings(root, path, program_catalogue(root))), None)
    if outcome.kind == "traces":
        return None
    if path.suffix in (".csv", ".txt"):
        text, _ = decode(path.name, content, mapping.options.encoding if mapping else "")
        text = text.split("\n", mapping.options.skip_lines)[-1] if mapping else text
        words = next(note for note in outcome.notes if note.startswith("read as"))
        mark = next(
            (
                m
                for w, m in (("commas", ","), ("semicolons", ";"), ("tabs", "\t"), ("bars", "|"))
                if w in words
            ),
            "",
        )
        if not mark:
            return None
        csv.field_size_limit(1_000_000)
        rows = [r for r in csv.reader(io.StringIO(text, newline=""), delimiter=mark) if "".join(r).strip()]
    else:
        try:
            book = openpyxl.load_workbook(io.BytesIO(content), data_only=True)
        except Exception:  # noqa: BLE001  another reader may refuse what ours can read
            return None
        if len(book.worksheets) != 1:
            return None
        rows = [
            ["" if c is None else str(c) for c in r] for r in book.worksheets[0].iter_rows(values_only=True)
        ]
        rows = [r for r in rows if "".join(r).strip()][mapping.options.skip_lines if mapping else 0 :]
    if mapping is None or mapping.layout != "wide":
        return len(rows) - 1
    heads = [" ".join(h.lower().replace("_", " ").split()) for h in rows[0]]
    wanted = [
        " ".join(c.lower().replace("_", " ").split()) for block in mapping.values for c in block.columns
    ]
    if any(heads.count(w) != 1 for w in wanted):
        return None
    places = [heads.index(w) for w in wanted]
    return sum(bool(r[p].strip()) for r in rows[1:] for p in places if p < len(r))


def _build_and_count(root: Path, landed: Sequence[str], result: FuzzResult) -> None:
    try:
        build(root)
    except Exception:  # noqa: BLE001  one file must not stop the build of all others
        result.crashes.append(f"build of {len(landed)} files: {traceback.format_exc(limit=-3)}")
        return
    with closing(open_published(root)) as connection:
        rows = connection.execute(
            "select import_id, file_name, rows_in, rows_taken, rows_held, rows_recognised, rows_rejected from import"
        ).fetchall()
    for import_id, name, rows_in, *parts in rows:
        if import_id not in landed:
            continue
        result.rows_in += rows_in
        for key, n in zip(
            ("rows_taken", "rows_held", "rows_recognised", "rows_rejected"), parts, strict=True
        ):
            setattr(result, key, getattr(result, key) + n)
        if rows_in != sum(parts):
            result.losses.append(f"{name}: {rows_in} rows in, {parts} taken, held, recognised, rejected")
