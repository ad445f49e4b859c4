"""Judges a file that claims to be a summary: issued, edited, withdrawn, superseded, expired, or not ours."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from difflib import SequenceMatcher
from pathlib import Path
from typing import Any

from pypdf.errors import PyPdfError

from latewood.pipeline.errors import NothingPublishedError, SummaryError
from latewood.pipeline.ingest.program import load_program
from latewood.pipeline.pages import register
from latewood.pipeline.pages.keys import fingerprint_of, known_public, signed_by
from latewood.pipeline.pages.recruit.code import ScannedCode
from latewood.pipeline.pages.recruit.current import supersede_changed
from latewood.pipeline.pages.recruit.data import csv_rows, hash_of
from latewood.pipeline.pages.recruit.issue import mark_withdrawn
from latewood.pipeline.pages.recruit.pdf import pdf_text
from latewood.pipeline.pages.recruit.web import web_text
from latewood.pipeline.pages.words import count

LARGEST = 20_000_000
MOST_DIFFERENCES = 12
_ONLY_NAMED = "A code can be copied onto another sheet: give the file too, or compare what is printed"
_UNREADABLE = (ValueError, KeyError, TypeError, IndexError, RecursionError, csv.Error, PyPdfError)
_PRINTED_HASH = re.compile(r"page\s+((?:[0-9a-f]{4}\s+){3}[0-9a-f]{4})\b")


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What a file is. `state` is issued, edited, withdrawn, superseded, expired or unknown."""

    state: str
    words: str
    differences: tuple[str, ...]
    page_hash: str

    @property
    def good(self) -> bool:
        """Whether the file may be relied on today."""
        return self.state == "issued"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Claim:
    """What a file says it is: its form, the hash it names, its words or its data."""

    form: str
    named: str
    texts: tuple[str, ...] = ()
    data: dict[str, Any] | None = None
    rows: tuple[dict[str, str], ...] = ()


def verify(root: Path, name: str, content: bytes) -> Verdict:
    """Judge the bytes of a file by the register of a data folder.

    Only the very file that was issued counts as issued (and JSON with the same content, however it is set): for
    any other file the words that differ are listed. Raises SummaryError where the file is no form of a summary.
    """
    if len(content) > LARGEST:
        raise SummaryError(f"{name}: is larger than any summary; check the file")
    key = known_public(root)
    if key is not None:
        mark_withdrawn(root)
    book = register.read(root, key)
    if book.problems:
        return _unknown(
            f"the register of this program is damaged ({book.problems[0]}); restore it from a backup", ""
        )
    entry = book.by_file(hashlib.sha256(content).hexdigest())
    if entry is not None:
        return _state_of(root, book, entry)
    claim = _claim(name, content)
    entry = _named(book, claim.named)
    if entry is None:
        return _unknown("no page of this number was issued by this program", claim.named)
    return _compared(root, book, entry, claim, key or "")


def verify_code(root: Path, scanned: ScannedCode) -> Verdict:
    """What became of the page that a scanned code names, by the register of a data folder.

    It says nothing of the sheet in hand: only a file can be held against what was issued.
    """
    key = known_public(root)
    if key is None or fingerprint_of(key) != scanned.fingerprint:
        return _unknown("the code names another key than the one of this program", scanned.page_hash)
    mark_withdrawn(root)
    book = register.read(root, key)
    if book.problems:
        return _unknown(
            f"the register of this program is damaged ({book.problems[0]}); restore it from a backup", ""
        )
    entry = _named(book, scanned.page_hash)
    if entry is None:
        return _unknown("no page of this number was issued by this program", scanned.page_hash)
    state = _state_of(root, book, entry)
    return replace(state, words=f"the page that the code names was {state.words}. {_ONLY_NAMED}")


def _unknown(words: str, named: str) -> Verdict:
    return Verdict(state="unknown", words=words, differences=(), page_hash=named)


def _named(book: register.Register, named: str) -> register.RegisterLine | None:
    result = [e for e in book.entries if e.state == "issued" and named and e.page_hash.startswith(named)]
    return result[0] if len(result) == 1 else None


def _state_of(root: Path, book: register.Register, entry: register.RegisterLine) -> Verdict:
    last = book.last(entry.page_hash) or entry
    if last.state == "issued" and _superseded_now(root, entry):
        last = register.read(root, known_public(root)).last(entry.page_hash) or entry
    until = date.fromisoformat(entry.valid_until)
    if last.state != "issued":
        state, words = (
            last.state,
            f"issued by this program on {entry.at[:10]}, {last.state} on {last.at[:10]}: {last.why}",
        )
    elif until < load_program(root).today():
        state, words = (
            "expired",
            f"issued by this program on {entry.at[:10]}; it was valid until {until.isoformat()}",
        )
    else:
        state, words = "issued", f"issued by this program on {entry.at[:10]}, valid until {until.isoformat()}"
    return Verdict(state=state, words=words, differences=(), page_hash=entry.page_hash)


def _superseded_now(root: Path, entry: register.RegisterLine) -> bool:
    """Whether the published build made pages of this athlete read otherwise; they are marked then."""
    try:
        return supersede_changed(root, (entry.subject,)) > 0
    except NothingPublishedError:  # a folder restored without its warehouse still knows what was issued
        return False


def _compared(
    root: Path, book: register.Register, entry: register.RegisterLine, claim: _Claim, key: str
) -> Verdict:
    status = _state_of(root, book, entry)
    if claim.data is not None and _same_data(claim.data, entry, key):
        return status
    kept = register.printed(root, entry.page_hash)
    if kept is None:
        return Verdict(
            state=status.state if status.state != "issued" else "edited",
            words=f"{status.words}; this file is not the one issued, and what was printed is not kept any more",
            differences=(), page_hash=entry.page_hash,
        )  # fmt: skip
    result = _differences(kept, claim)
    words = (
        f"the file is not as issued: {count(len(result), 'place')} differ{'s' if len(result) == 1 else ''}"
        if result
        else "the words are those of the page issued, but the file is not the file issued: it was saved again or "
        "something other than words was changed"
    )
    return Verdict(
        state="edited", words=f"{words} (the page itself: {status.words})",
        differences=tuple(result[:MOST_DIFFERENCES]), page_hash=entry.page_hash,
    )  # fmt: skip


def _same_data(data: dict[str, Any], entry: register.RegisterLine, key: str) -> bool:
    return (
        _hash_or_none(data) == entry.page_hash == data["provenance"].get("page_hash")
        and data.get("public_key") == key
        and signed_by(key, entry.page_hash, str(data.get("signature", "")))
        and data["provenance"].get("fingerprint") == fingerprint_of(key)
    )


def _hash_or_none(data: dict[str, Any]) -> str | None:
    try:
        return hash_of(data)
    except (KeyError, TypeError, AttributeError, ValueError):
        return None


def _claim(name: str, content: bytes) -> _Claim:
    try:
        if content.startswith(b"%PDF"):
            text = pdf_text(content)
            return _Claim(form="pdf", named=_printed_hash(text), texts=tuple(text.split()))
        text = content.decode("utf-8-sig")
        if text.lstrip().startswith("{"):
            data = dict(json.loads(text))
            return _Claim(form="json", named=str(data["provenance"]["page_hash"]), data=data)
        if text.lstrip()[:9].lower() in {"<!doctype", "<html"} or "<html" in text[:200].lower():
            texts = web_text(text)
            return _Claim(
                form="html", named=_printed_hash(" ".join(texts)), texts=tuple(" ".join(texts).split())
            )
        rows = _rows(text)
        named = Counter(row["page_hash"] for row in rows).most_common(1)[0][0]
        return _Claim(form="csv", named=named, rows=rows)
    except (
        UnicodeDecodeError,
        ValueError,
        KeyError,
        TypeError,
        IndexError,
        RecursionError,
        csv.Error,
        PyPdfError,
    ) as error:
        raise SummaryError(
            f"{name}: cannot be read as a summary ({type(error).__name__}); give the PDF, HTML, JSON or CSV as received"
        ) from error


def _rows(text: str) -> tuple[dict[str, str], ...]:
    """The rows of a CSV, also as a spreadsheet saves it again with semicolons; what has no heading is kept."""
    mark = max(",;\t", key=text.split("\n", 1)[0].count)
    reader = csv.DictReader(
        io.StringIO(text, newline=""), restkey="beyond the last column", restval="", delimiter=mark
    )
    return tuple({str(key): str(value) for key, value in row.items()} for row in reader)


def _printed_hash(text: str) -> str:
    result = _PRINTED_HASH.findall(text)
    return re.sub(r"\s", "", result[-1]) if result else ""


def _differences(kept: dict[str, Any], claim: _Claim) -> list[str]:
    if claim.data is not None:
        return _data_differences(kept["data"], claim.data, "")
    if claim.form == "csv":
        return row_differences(csv_rows(kept["data"]), claim.rows)
    return word_differences(" ".join(kept["texts"]).split(), list(claim.texts))


def word_differences(issued: Sequence[str], found: Sequence[str]) -> list[str]:
    """The stretches of words in which two texts differ, as sentences.

    >>> word_differences("best 88.1 mph".split(), "best 92.1 mph".split())
    ["issued '88.1', the file says '92.1'"]
    """
    if "".join(issued) == "".join(found):  # a PDF may break a long word where the line ends
        return []
    matcher = SequenceMatcher(None, issued, found, autojunk=False)
    return [
        f"issued {' '.join(issued[a:b])!r}, the file says {' '.join(found[c:d])!r}"
        for tag, a, b, c, d in matcher.get_opcodes()
        if tag != "equal"
    ]


def row_differences(issued: Sequence[Mapping[str, str]], found: Sequence[Mapping[str, str]]) -> list[str]:
    """The cells in which two CSVs of a page differ, as sentences; rows are told by their measure.

    >>> row_differences([{"measure": "exit_speed", "best": "88.1"}], [{"measure": "exit_speed", "best": "92.1"}])
    ["exit_speed, best: issued '88.1', the file says '92.1'"]
    """
    if [row.get("measure") for row in issued] != [row.get("measure") for row in found]:
        measures = [" ".join(str(row.get("measure", "")) for row in rows) for rows in (issued, found)]
        return [f"measures: issued {measures[0]!r}, the file says {measures[1]!r}"]
    return [
        f"{one['measure']}, {key}: issued {one.get(key, '')!r}, the file says {other.get(key, '')!r}"
        for one, other in zip(issued, found, strict=True)
        for key in dict.fromkeys((*one, *other))
        if not _same_cell(one.get(key, ""), other.get(key, ""))
    ]


def _same_cell(issued: str, found: str) -> bool:
    """Whether two cells say the same: a spreadsheet may write 32.0 as 32."""
    try:
        return issued == found or float(issued) == float(found)
    except ValueError:
        return False


def _data_differences(issued: object, found: object, where: str) -> list[str]:
    if isinstance(issued, dict) and isinstance(found, dict):
        keys = [*issued, *(k for k in found if k not in issued and k not in {"signature", "public_key"})]
        pairs = [(issued.get(k), found.get(k), f"{where}.{k}".lstrip(".")) for k in keys]
    elif isinstance(issued, list) and isinstance(found, list) and len(issued) == len(found):
        pairs = [(a, b, f"{where}[{i}]") for i, (a, b) in enumerate(zip(issued, found, strict=True))]
    else:
        return [] if issued == found else [f"{where}: issued {issued!r}, the file says {found!r}"]
    return [difference for pair in pairs for difference in _data_differences(*pair)]
