"""What may be a person's though it does not name them exactly: misspelt, "Last, First", initials, in other cells.

Nothing here is decided: each is shown with a score from 0 to 100 (rapidfuzz's ratio of the words in order), and
whoever erases says for each whether it goes or stays.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
from rapidfuzz import fuzz

from latewood.pipeline.care.erase_rows import Landed
from latewood.pipeline.care.erase_sought import Sought, words_of
from latewood.pipeline.ingest.logs import case_words, focus, planlog, videos
from latewood.pipeline.ingest.logs import decisions as decided
from latewood.pipeline.warehouse.lookups import plain_name

LEAST: Final = 82.0  # below, two names are more often two people than one misspelt
INITIALS: Final = 90.0
ONE_WORD: Final = 84.0  # the family name alone, where nobody else has it
LONGEST: Final = 400  # characters of a cell that is looked at


@dataclass(frozen=True, slots=True, kw_only=True)
class Likely:
    """Something that may be theirs. `key` names it to the command line and says nothing of anybody."""

    key: str
    kind: str  # row, cell, file name or note
    place: str
    says: str
    score: float
    import_id: str = ""
    lines: tuple[int, ...] = ()
    within: str = ""  # hash of the landed file, or name of the log


@dataclass(frozen=True, slots=True, kw_only=True)
class Whose:
    """The person's names, and everybody's, to compare with."""

    names: tuple[str, ...]
    everybody: Mapping[str, Sequence[str]]
    athlete_id: str
    joined: tuple[str, ...] = ()  # their other ids

    def has(self, athlete_id: str) -> bool:
        """Whether an id is theirs."""
        return athlete_id in (self.athlete_id, *self.joined)

    def is_others(self, text: str) -> bool:
        """Whether a text names another athlete exactly."""
        ids = self.everybody.get(text) or self.everybody.get(plain_name(text)) or ()
        return bool(ids) and self.athlete_id not in ids

    def score(self, text: str) -> float:
        """How well a text fits as a name of this person; 0 where it fits another athlete as well or better."""
        best = max((_alike(text, name) for name in self.names), default=0.0)
        if best < LEAST:
            return 0.0
        others = (n for n, ids in self.everybody.items() if self.athlete_id not in ids)
        return best if best > max((_alike(text, name) for name in others), default=0.0) else 0.0

    def score_within(self, text: str) -> float:
        """How well a part of a text fits as a name of this person."""
        words = re.findall(r"[^\W\d_]+(?:['’-][^\W\d_]+)*\.?", text)
        sizes = {len(words_of(name)) for name in self.names}
        parts = {" ".join(words[i : i + n]) for n in sizes for i in range(max(1, len(words) - n + 1))}
        return max((self.score(one) for one in parts if " " in one), default=0.0)


def likely(root: Path, landed: Sequence[Landed], whose: Whose, surely: Sought) -> tuple[Likely, ...]:
    """Everything that may be theirs and is not surely so, the best match first."""
    result = [one for file in landed for one in _in_file(file, whose, surely)]
    result += _in_notes(root, whose, surely)
    return tuple(sorted({one.key: one for one in result}.values(), key=lambda one: (-one.score, one.key)))


def _in_file(file: Landed, whose: Whose, surely: Sought) -> Iterator[Likely]:
    name = file.manifest.file_name
    score = whose.score_within(re.sub(r"[\W_]+", " ", Path(name).stem))
    if score and not surely.found(name):
        yield Likely(
            key=_key(file.manifest.sha256, "name"), kind="file name", place=name, says=name, score=score,
            within=file.manifest.sha256,
        )  # fmt: skip
    if not file.sided:  # a line may be another's on its other side: there only the name goes
        yield from _rows(file, whose)
    yield from _cells(file, whose, surely)


def _rows(file: Landed, whose: Whose) -> Iterator[Likely]:
    by_text: dict[str, list[int]] = {}
    for line, text in zip(file.table.lines, file.athletes, strict=True):
        if line not in file.theirs and line not in file.settled:
            by_text.setdefault(text, []).append(line)
    for text, lines in by_text.items():
        if not text or whose.is_others(text):
            continue
        score = whose.score(text)
        if score:
            yield Likely(
                key=_key(file.manifest.import_id, lines[0]), kind="row", place=_lines(file, lines), says=text,
                score=score, import_id=file.manifest.import_id, lines=tuple(lines), within=file.manifest.sha256,
            )  # fmt: skip


def _cells(file: Landed, whose: Whose, surely: Sought) -> Iterator[Likely]:
    left = np.array([line not in file.theirs for line in file.table.lines], dtype=bool)
    observed: set[str] = set()
    for column in file.table.headers:
        full = file.table.frame[column]
        wanted = [text for text in map(str, full.unique()) if _may_name(text.strip())]
        if (column == file.athlete_column and not file.sided) or not wanted:
            continue  # most columns hold numbers only
        first = full[left & full.isin(wanted).to_numpy()].str.strip().drop_duplicates()
        for at, text in zip(first.index, first, strict=True):
            if text in observed or surely.found(text):
                continue
            observed.add(text)
            score = 0.0 if whose.is_others(text) else whose.score_within(text)
            if score:
                line = file.table.lines[int(at)]
                yield Likely(
                    key=_key(file.manifest.sha256, line, column), kind="cell",
                    place=f"{file.manifest.file_name}, line {line}, {column}", says=text, score=score,
                    within=file.manifest.sha256,
                )  # fmt: skip
    for text in file.other_texts:
        score = whose.score_within(text) if text not in observed and _may_name(text) else 0.0
        if score and not surely.found(text) and not whose.is_others(text) and text not in file.athletes:
            yield Likely(
                key=_key(file.manifest.sha256, text), kind="cell", says=text, score=score,
                place=f"{file.manifest.file_name}, another sheet or a comment", within=file.manifest.sha256,
            )  # fmt: skip


def _in_notes(root: Path, whose: Whose, surely: Sought) -> Iterator[Likely]:
    reported = [("decisions.jsonl", d.decision_id, d.why) for d in decided.read(root / "decisions.jsonl")]
    reported += [
        (planlog.LOG, e.event_id, e.note) for e in planlog.read_log(root) if not whose.has(e.athlete_id)
    ]
    reported += [(focus.LOG, f.focus_id, f.text) for f in focus.read_log(root) if not whose.has(f.athlete_id)]
    reported += [
        (case_words.LOG, w.words_id, w.text) for w in case_words.read_log(root) if not whose.has(w.athlete_id)
    ]
    reported += [
        (videos.LOG, v.video_id, v.text) for v in videos.read_log(root) if not whose.has(v.athlete_id)
    ]
    for log, number, text in reported:
        score = 0.0 if surely.found(text) else whose.score_within(text)
        if score:
            yield Likely(
                key=_key(log, number),
                kind="note",
                place=f"{log}, {number}",
                says=text,
                score=score,
                within=log,
            )


def _alike(text: str, name: str) -> float:
    """From 0 to 100: equal words in any order, a family name with initials, or a family name alone."""
    given, known = words_of(text), words_of(name)
    if not given or len(known) < 2:
        return 0.0
    score = float(fuzz.ratio(" ".join(sorted(given)), " ".join(sorted(known))))
    family = known[-1]
    if len(given) == 1:
        return max(score, ONE_WORD if given[0] == family and len(family) > 3 else 0.0)
    rest = [word for word in given if word != family]
    if len(rest) == len(given) - 1 and all(len(w) == 1 for w in rest) and rest[0] == known[0][0]:
        return max(score, INITIALS)
    return score


def _may_name(text: str) -> bool:
    return 4 < len(text) <= LONGEST and any(letter.isalpha() for letter in text) and " " in text.strip()


def _lines(file: Landed, lines: Sequence[int]) -> str:
    many = f"{len(lines)} rows from line {lines[0]}" if len(lines) > 1 else f"line {lines[0]}"
    return f"{file.manifest.file_name}, {many}"


def _key(*parts: object) -> str:
    return hashlib.sha256("\n".join(map(str, parts)).encode()).hexdigest()[:8]
