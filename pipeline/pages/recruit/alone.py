"""A check that needs nothing but a file, its signature and the fingerprint of the key."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Final

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.pages.keys import fingerprint_of, signed_by
from latewood.pipeline.pages.recruit.code import ScannedCode
from latewood.pipeline.pages.recruit.data import hash_of
from latewood.pipeline.pages.recruit.verify import Verdict
from latewood.pipeline.pages.words import joined

FEWEST_DIGITS: Final = 16  # of a fingerprint, as a page prints them
_ASK: Final = "whether it was withdrawn since, only the program can say"
_KEY_ASKED: Final = (
    "It is the page that the code names; the code came with the sheet, so ask the program for the fingerprint of its "
    "key by another way"
)


@dataclass(frozen=True, slots=True)
class _Signed:
    """What a key signed: for whom the signature holds, until when, and which page it is."""

    public_key: str
    until: date
    page_hash: str
    genuine: bool
    stated: tuple[tuple[str, date], ...] = ()  # the family's lines, each with its last day


def check_alone(name: str, content: bytes, signature: bytes | None, fingerprint: str, today: date) -> Verdict:
    """Judge a file by its signature and the fingerprint of a key that came by another way, without a data folder.

    The JSON form holds its own signature; the others need the file that ends in `.sig`. Raises SummaryError where
    fingerprint or signature cannot be read.
    """
    wanted = re.sub(r"[\s:]", "", fingerprint).lower()
    if not re.fullmatch(rf"[0-9a-f]{{{FEWEST_DIGITS},64}}", wanted):
        raise SummaryError(
            f"--key {fingerprint!r}: is no fingerprint; give at least its first {FEWEST_DIGITS} digits, as on a page"
        )
    result = _of_data(name, content) if signature is None else _of_file(content, signature)
    if not fingerprint_of(result.public_key).startswith(wanted):
        return _verdict("unknown", "it is signed with another key than the one given", result.page_hash)
    if not result.genuine:
        return _verdict("edited", "the file is not the one that was signed", result.page_hash)
    if result.until < today:
        return _verdict(
            "expired", f"signed with this key; it was valid until {result.until}", result.page_hash
        )
    ended = joined([f"{field} on {until}" for field, until in result.stated if until < today])
    if ended:
        words = (
            f"signed with this key, valid until {result.until}, but what the family states has ended: {ended}"
        )
        return _verdict("expired", words, result.page_hash)
    lasting = joined([f"{field} until {until}" for field, until in result.stated])
    also = f"; stated by the family, not checked: {lasting}" if lasting else ""
    return _verdict(
        "issued", f"signed with this key, valid until {result.until}{also}; {_ASK}", result.page_hash
    )


def check_code(
    name: str, content: bytes, signature: bytes | None, scanned: ScannedCode, today: date
) -> Verdict:
    """Judge a file by the code scanned from a sheet: is it the very page that the code names, signed with its key?

    The code comes with the sheet, so it proves nothing of the key: the words say so. Raises SummaryError as
    `check_alone` does.
    """
    result = _of_data(name, content) if signature is None else _of_file(content, signature)
    if result.genuine and result.page_hash != scanned.page_hash:
        return _verdict(
            "unknown", "the file is another page than the one that the code names", result.page_hash
        )
    made = check_alone(name, content, signature, scanned.fingerprint, today)
    return replace(made, words=f"{made.words}. {_KEY_ASKED}") if made.state in {"issued", "expired"} else made


def _ends(stated: Mapping[str, str]) -> tuple[tuple[str, date], ...]:
    return tuple((str(field), date.fromisoformat(until)) for field, until in stated.items())


def _verdict(state: str, words: str, page_hash: str) -> Verdict:
    return Verdict(state=state, words=words, differences=(), page_hash=page_hash)


def _of_file(content: bytes, signature: bytes) -> _Signed:
    try:
        made: dict[str, Any] = json.loads(signature)
        signed = str(made["signed"])
        what = json.loads(signed)
        digest, public = hashlib.sha256(content).hexdigest(), str(made["public_key"])
        fingerprint_of(public)
        return _Signed(
            public, date.fromisoformat(what["valid_until"]), str(what["page_hash"]),
            signed_by(public, signed, str(made["signature"])) and digest in set(what["files"].values()),
            _ends(what.get("stated_until", {})),
        )  # fmt: skip
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise SummaryError(
            f"the signature: cannot be read ({type(error).__name__}); give the .sig file as received"
        ) from error


def _of_data(name: str, content: bytes) -> _Signed:
    try:
        data: dict[str, Any] = json.loads(content.decode("utf-8-sig"))
        page_hash, public = str(data["provenance"]["page_hash"]), str(data["public_key"])
        until = date.fromisoformat(data["provenance"]["valid_until"])
        same = hash_of(data) == page_hash and data["provenance"]["fingerprint"] == fingerprint_of(public)
        return _Signed(
            public,
            until,
            page_hash,
            same and signed_by(public, page_hash, str(data["signature"])),
            _ends({one["field"]: one["until"] for one in data["person"].get("stated", [])}),
        )
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise SummaryError(
            f"{name}: holds no signature of its own; give the file that ends in .sig with --signature"
        ) from error
