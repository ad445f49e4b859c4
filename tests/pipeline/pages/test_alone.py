"""A file is judged by its signature and the fingerprint of a key alone: every kind of change is seen."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from typer.testing import CliRunner

from latewood.pipeline.cli.main import app
from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import Consent
from latewood.pipeline.pages.keys import Signer, signer
from latewood.pipeline.pages.recruit import issue
from latewood.pipeline.pages.recruit.alone import check_alone
from latewood.pipeline.pages.recruit.data import hash_of
from latewood.pipeline.pages.recruit.issue import Issued, open_run
from latewood.pipeline.pages.recruit.verify import Verdict, verify
from tests.conftest import Camp

FORMS = ("pdf", "html", "json", "csv")
TODAY = date(2032, 8, 21)
DOCS = Path(__file__).parents[3] / "docs" / "summaries.md"


@pytest.fixture
def made(agreed: Camp) -> dict[str, bytes]:
    (one,) = issue.issue(open_run(agreed.root, "Ira", forms=(*FORMS, "sig")), ("T1",))
    assert isinstance(one, Issued), one
    return {Path(name).suffix[1:]: content for name, content in one.files.items()}


@pytest.fixture
def key(agreed: Camp) -> str:
    return signer(agreed.root).fingerprint


def state(made: dict[str, bytes], form: str, content: bytes, key: str, today: date = TODAY) -> str:
    return check_alone(f"a.{form}", content, made["sig"], key, today).state


@pytest.mark.parametrize("form", FORMS)
def test_what_was_issued_is_issued_without_a_data_folder(made, key, form) -> None:
    assert state(made, form, made[form], key) == "issued"
    assert state(made, form, made[form], f"{key[:4]} {key[4:8]} {key[8:12]} {key[12:16]}") == "issued"
    assert state(made, form, made[form], key, date(2034, 1, 1)) == "expired"


def test_the_signature_is_a_file_of_the_register_too(made, agreed: Camp) -> None:
    assert verify(agreed.root, "a.sig", made["sig"]).state == "issued"


def _flip(at: float) -> Callable[[bytes], bytes]:
    def changed(content: bytes) -> bytes:
        k = int(at * (len(content) - 1))
        return content[:k] + bytes([content[k] ^ 1]) + content[k + 1 :]

    return changed


def _turned(content: bytes) -> bytes:
    """Two neighbours that differ, changed over."""
    k = next(k for k in range(len(content) // 3, len(content)) if content[k] != content[k + 1])
    return content[:k] + bytes([content[k + 1], content[k]]) + content[k + 2 :]


CHANGES: dict[str, Callable[[bytes], bytes]] = {
    "first byte": _flip(0.0), "a quarter in": _flip(0.25), "middle byte": _flip(0.5), "last byte": _flip(1.0),
    "cut off": lambda c: c[:-1], "added to": lambda c: c + b" ", "line ends": lambda c: c.replace(b"\n", b"\r\n"),
    "a figure": lambda c: re.sub(rb"\d(?=\D*$)", lambda m: b"9" if m[0] != b"9" else b"8", c, count=1),
    "saved twice": lambda c: c + c, "emptied": lambda c: b"", "a mark in front": lambda c: b"\xef\xbb\xbf" + c,
    "a line more": lambda c: c + b"\n", "a sign in front": lambda c: b" " + c,
    "a zero byte": lambda c: c[:40] + b"\0" + c[40:],
    "first half": lambda c: c[: len(c) // 2], "second half": lambda c: c[len(c) // 2 :],
    "first line out": lambda c: c.partition(b"\n")[2], "backwards": lambda c: c[::-1],
    "two bytes changed over": lambda c: _turned(c),
    "a letter larger": lambda c: re.sub(rb"[a-z]", lambda m: m[0].upper(), c, count=1),
    "a year later": lambda c: re.sub(rb"203(\d)", lambda m: b"203" + (b"9" if m[1] != b"9" else b"8"), c, count=1),
    "every figure": lambda c: re.sub(rb"\d", lambda m: bytes([48 + (m[0][0] - 47) % 10]), c),
}  # fmt: skip


@pytest.mark.parametrize("form", FORMS)
def test_every_kind_of_change_is_seen_in_every_form(made, key, form) -> None:
    assert len(CHANGES) >= 20
    for kind, change in CHANGES.items():
        other = change(made[form])
        if kind == "a year later" and form == "pdf":  # a PDF's words are packed: no year stands in its bytes
            continue
        assert other != made[form], kind
        assert state(made, form, other, key) == "edited", kind


def _leaves(node: object, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    inside = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else None
    if inside is None:
        return [path]
    return [leaf for key, one in inside for leaf in _leaves(one, (*path, key))]


def test_every_single_value_of_the_json_changed_is_seen_by_its_own_signature(made, key) -> None:
    data = json.loads(made["json"])
    leaves = [path for path in _leaves(data) if path[0] not in {"signature", "public_key"}]
    assert len(leaves) > 100
    for path in leaves:
        other = json.loads(made["json"])
        inside = other
        for step in path[:-1]:
            inside = inside[step]
        inside[path[-1]] = "2039-01-01" if path[-1] == "valid_until" else "x"
        assert check_alone("a.json", json.dumps(other).encode(), None, key, TODAY).state == "edited", path


@pytest.mark.parametrize("form", FORMS)
def test_the_end_of_what_the_family_states_is_part_of_the_answer(agreed: Camp, key, form) -> None:
    stated = Consent(
        athlete_id="T1", given_by="guardian", given_on=date(2032, 8, 1), expires_on=date(2032, 9, 1),
        fields=(), measures=(), photo=False, projection=False, reference="", purpose="school",
        statement="Oak Hollow High",
    )  # fmt: skip
    consent_book.record(agreed.root, stated, "Ira")
    (one,) = issue.issue(open_run(agreed.root, "Ira", forms=(*FORMS, "sig")), ("T1",))
    files = {Path(name).suffix[1:]: content for name, content in one.files.items()}
    for signature in (files["sig"], None)[: 2 if form == "json" else 1]:

        def asked(today: date, signature: bytes | None = signature) -> Verdict:
            return check_alone(f"a.{form}", files[form], signature, key, today)

        assert "stated by the family, not checked: school until 2032-09-01" in asked(TODAY).words
        late = asked(date(2032, 9, 2))
        assert late.state == "expired"
        assert "what the family states has ended: school on 2032-09-01" in late.words


def _signed_anew(made: dict[str, bytes], **changed: object) -> bytes:
    old = json.loads(made["sig"])
    signed = json.dumps({**json.loads(old["signed"]), **changed}, sort_keys=True)
    return json.dumps({**old, "signed": signed}).encode()


def test_a_changed_signature_is_seen(made, key) -> None:
    for forged in (_signed_anew(made, valid_until="2040-01-01"), _signed_anew(made, page_hash="0" * 64)):
        assert check_alone("a.pdf", made["pdf"], forged, key, TODAY).state == "edited"


def test_a_forger_with_a_key_of_their_own_is_not_the_program(made, key) -> None:
    forger = Signer(Ed25519PrivateKey.generate())
    old = json.loads(made["sig"])
    forged = {**old, "public_key": forger.public_text, "signature": forger.sign(old["signed"])}
    assert check_alone("a.pdf", made["pdf"], json.dumps(forged).encode(), key, TODAY).state == "unknown"
    data = json.loads(made["json"])
    data["measures"][0]["best"]["best"] += 4.0
    data["provenance"]["page_hash"] = hash_of(data)
    data |= {"public_key": forger.public_text, "signature": forger.sign(data["provenance"]["page_hash"])}
    assert check_alone("a.json", json.dumps(data).encode(), None, key, TODAY).state == "unknown"


def test_json_carries_its_own_signature_however_it_is_set(made, key) -> None:
    data = json.loads(made["json"])
    assert check_alone("a.json", json.dumps(data).encode(), None, key, TODAY).state == "issued"
    data["measures"][0]["best"]["best"] += 4.0
    assert check_alone("a.json", json.dumps(data).encode(), None, key, TODAY).state == "edited"


@pytest.mark.parametrize("given", ["", "3f1c", "no hex at all, surely", "g" * 16])
def test_what_is_no_fingerprint_is_refused(made, given) -> None:
    with pytest.raises(SummaryError, match="is no fingerprint; give at least its first 16 digits"):
        check_alone("a.pdf", made["pdf"], made["sig"], given, TODAY)


def test_a_file_without_a_signature_says_what_is_missing(made, key) -> None:
    for signature, words in (
        (None, "holds no signature of its own"),
        (b"{}", "cannot be read"),
        (b"\xff", "cannot be read"),
    ):
        with pytest.raises(SummaryError, match=words):
            check_alone("a.pdf", made["pdf"], signature, key, TODAY)


def test_a_signature_alone_is_no_form(agreed: Camp) -> None:
    with pytest.raises(SummaryError, match="signs other forms"):
        open_run(agreed.root, "Ira", forms=("sig",))


def test_the_command_needs_no_data_folder(made, key, tmp_path: Path) -> None:
    for form, content in made.items():
        (tmp_path / f"page.{form}").write_bytes(content)
    requested = ["verify", str(tmp_path / "page.pdf"), "--key", key, "--data", str(tmp_path / "nowhere")]
    good = CliRunner().invoke(app, requested)
    assert (good.exit_code, good.output.split(":")[0]) in {(0, "issued"), (2, "expired")}
    (tmp_path / "page.pdf").write_bytes(made["pdf"] + b" ")
    bad = CliRunner().invoke(app, requested)
    assert (bad.exit_code, bad.output.split(":")[0]) == (2, "edited")
    assert not (tmp_path / "nowhere").exists()


def test_the_recipe_for_a_stranger_works_as_printed(made, key, tmp_path: Path) -> None:
    (recipe,) = re.findall(r"```python\n(.*?)```", DOCS.read_text(encoding="utf-8"), flags=re.DOTALL)
    assert len(recipe.strip().splitlines()) <= 12
    for name, content in {
        "page.pdf": made["pdf"],
        "page.sig": made["sig"],
        "check.py": recipe.encode(),
    }.items():
        (tmp_path / name).write_bytes(content)
    command = [sys.executable, "check.py", "page.pdf", "page.sig", key[:16]]
    good = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=60, check=False)
    assert (good.returncode, good.stdout.split(";")[0]) == (0, "as signed"), good.stderr
    (tmp_path / "page.pdf").write_bytes(made["pdf"] + b" ")
    bad = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, timeout=60, check=False)
    assert "not the file signed" in bad.stderr
