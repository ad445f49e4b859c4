"""A receipt or a key kept outside the folder shows that the whole audit log was made anew."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from latewood.pipeline.cli.main import app
from latewood.pipeline.errors import AuditError
from latewood.pipeline.ingest.logs import audit, content, receipt
from latewood.pipeline.ingest.logs.audit_key import KEY

OUTSIDE = "keys-elsewhere"


def _write(root: Path, n: int, who: str = "Ira") -> None:
    for number in range(n):
        audit.append(root, "decision", who, {"decision": f"d{number}", "rows": number})


@pytest.fixture
def root(tmp_path: Path) -> Path:
    folder = tmp_path / "data"
    _write(folder, 4)
    return folder


def _made_anew(root: Path, who: str, n: int = 4) -> None:
    """What whoever may write the folder can do: a whole log that says something else, with its own head."""
    for name in ("audit.jsonl", "audit.head"):
        (root / "landing" / name).unlink()
    _write(root, n, who)
    assert audit.check(root).whole


@pytest.mark.parametrize("form", ["file", "paper"])
def test_a_receipt_holds_while_lines_are_added_and_not_when_the_log_is_made_anew(
    root: Path, form: str
) -> None:
    made = receipt.make(root)
    given = receipt.as_text(made) if form == "file" else f" {made.typed.upper()} "
    assert receipt.problems(root, given) == ()
    _write(root, 3)
    assert receipt.problems(root, given) == ()
    _made_anew(root, "Ida", 9)
    (words,) = receipt.problems(root, given)
    assert words == "line 4 is another one than on the day of the receipt: the log was made anew"
    _made_anew(root, "Ida", 2)
    assert "the log has no line 4, which stood there" in receipt.problems(root, given)[0]


def test_the_contents_of_the_logs_are_held_too(root: Path) -> None:
    audit.ready(root)
    audit.subject(root, "T1")
    made = receipt.as_text(receipt.make(root))
    assert json.loads(made)["content_lines"] > 0
    audit.subject(root, "T2")
    assert receipt.problems(root, made) == ()
    content.begin_again(root, 0)
    assert "content.jsonl, line" in receipt.problems(root, made)[0]
    audit.append(root, "erasure", "Ira", {})  # begins it anew by right, and says so
    assert receipt.problems(root, made) == ()


@pytest.mark.parametrize("given", ["", "{}", "12", "12:abc", "[1]", '{"form": "latewood-receipt/1"}'])
def test_what_is_no_receipt_is_refused(root: Path, given: str) -> None:
    with pytest.raises(AuditError, match="the receipt cannot be read"):
        receipt.problems(root, given)


def test_no_receipt_is_given_of_a_log_that_was_cut(root: Path) -> None:
    log = root / "landing" / "audit.jsonl"
    log.write_text("".join(log.read_text(encoding="utf-8").splitlines(keepends=True)[:2]), encoding="utf-8")
    with pytest.raises(AuditError, match="no receipt: the log ends at line 2"):
        receipt.make(root)


@pytest.fixture
def key(root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / OUTSIDE
    audit.begin_key(root, path)
    monkeypatch.setenv(KEY, str(path))
    return path


def test_with_a_key_a_log_made_anew_is_seen_and_nothing_is_added_to_it(
    root: Path, key: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert key.stat().st_mode & 0o777 == 0o600
    _write(root, 2)
    assert audit.check(root).whole
    monkeypatch.delenv(KEY)
    _made_anew(root, "Ida", 6)
    monkeypatch.setenv(KEY, str(key))
    assert audit.check(root).problems == (
        f"audit.head: was not written with the key that {KEY} names; the log may have been made anew",
    )
    with pytest.raises(AuditError, match="was not written with the key"):
        _write(root, 1)
    assert len(audit.lines(root)) == 6


def test_the_code_of_another_log_or_key_is_not_taken(root: Path, key: Path, tmp_path: Path) -> None:
    head = root / "landing" / "audit.head"
    was = head.read_text(encoding="utf-8")
    _write(root, 1)
    now = head.read_text(encoding="utf-8").split()
    head.write_text(" ".join([*now[:2], was.split()[2]]) + "\n", encoding="utf-8")
    assert not audit.check(root).whole
    other = tmp_path / "another"
    other.write_text("ab" * 32 + "\n", encoding="ascii")
    other.chmod(0o600)
    head.write_text(" ".join(now) + "\n", encoding="utf-8")
    assert audit.check(root).whole
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(KEY, str(other))
        assert not audit.check(root).whole


def test_a_receipt_under_the_key_cannot_be_forged(
    root: Path, key: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = json.loads(receipt.as_text(receipt.make(root)))
    assert receipt.problems(root, json.dumps(made)) == ()
    assert receipt.problems(root, json.dumps({**made, "at": "2020-01-01"})) == (
        "the receipt was not made with this key, or was changed since",
    )


@pytest.mark.parametrize("harm", ["inside", "open", "short", "gone"])
def test_a_key_that_protects_nothing_is_refused(
    root: Path, key: Path, harm: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    words = {
        "inside": "lies in the data folder",
        "open": "chmod 600",
        "short": "is no key",
        "gone": "cannot be read",
    }
    if harm == "inside":
        (root / "key").write_text(key.read_text(encoding="ascii"), encoding="ascii")
        monkeypatch.setenv(KEY, str(root / "key"))
    elif harm == "open":
        key.chmod(0o644)
    elif harm == "short":
        key.write_text("ab\n", encoding="ascii")
    else:
        key.unlink()
    with pytest.raises(AuditError, match=words[harm]):
        _write(root, 1)


def test_the_command_writes_and_checks_a_receipt(root: Path, tmp_path: Path) -> None:
    def run(*asked: str) -> tuple[int, str]:
        done = CliRunner().invoke(app, ["audit", *asked, "--data", str(root)])
        return done.exit_code, " ".join((done.output or str(done.exception)).split())

    file = tmp_path / "receipt.json"
    code, words = run("--receipt", str(file))
    assert (code, receipt.make(root).typed in words) == (0, True)
    assert run("--check", str(file))[1] == "all that stood on the day of the receipt stands as it was written"
    assert run("--check", receipt.make(root).typed)[0] == 0
    assert run("--receipt", str(file))[0] != 0  # never written over
    _made_anew(root, "Ida")
    assert run("--check", str(file))[0] != 0
    assert f"{KEY}=" in run("--new-key", str(tmp_path / OUTSIDE))[1]
