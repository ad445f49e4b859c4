"""What lands stays as it came; decisions are only added to and survive a torn line."""

from __future__ import annotations

import dataclasses
from dataclasses import asdict
from pathlib import Path

import pytest

from latewood.pipeline.errors import DecisionError, LandingError
from latewood.pipeline.ingest.files import landing
from latewood.pipeline.ingest.logs import decisions as decided
from latewood.pipeline.ingest.logs.lines import append_line


def manifest(content: bytes, name: str = "scale 1.csv", sequence: int = 0) -> landing.Manifest:
    sha256 = landing.file_hash(content)
    return landing.Manifest(
        import_id=landing.import_id_of(sha256, ""), sha256=sha256, file_name=name, stored_as=landing.safe_name(name),
        size=len(content), kind="readings", mapping_name="own columns", mapping_text="",
        received_at="2032-07-01T12:00:00+00:00", received_by="tester", sequence=sequence, rows_in=1, notes=("a",),
    )  # fmt: skip


def test_a_stored_file_comes_back_byte_for_byte(tmp_path: Path) -> None:
    stored = manifest(b"a;b\r\n1;2\r\n")
    landing.store(tmp_path, stored, b"a;b\r\n1;2\r\n")
    assert landing.manifests(tmp_path) == [stored]
    assert landing.read_file(tmp_path, stored) == b"a;b\r\n1;2\r\n"
    assert not list(tmp_path.glob(".arriving-*"))


def test_a_changed_file_is_found_out(tmp_path: Path) -> None:
    stored = manifest(b"a;b\n1;2\n")
    landing.store(tmp_path, stored, b"a;b\n1;2\n")
    (tmp_path / stored.sha256 / stored.stored_as).write_bytes(b"a;b\n1;3\n")
    with pytest.raises(LandingError, match=r"scale 1.csv .* was changed after it arrived; restore it"):
        landing.read_file(tmp_path, stored)


def test_a_broken_manifest_is_named(tmp_path: Path) -> None:
    stored = manifest(b"a;b\n1;2\n")
    landing.store(tmp_path, stored, b"a;b\n1;2\n")
    (tmp_path / stored.sha256 / f"{stored.import_id}.json").write_text("{", encoding="utf-8")
    with pytest.raises(LandingError, match="manifest cannot be read"):
        landing.manifests(tmp_path)


def test_the_digest_follows_every_field(tmp_path: Path) -> None:
    stored = manifest(b"a;b\n1;2\n")
    other = dataclasses.replace(stored, mapping_name="scale")
    assert landing.landing_digest([stored]) != landing.landing_digest([other])


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\camp\\scale.csv", "scale.csv"),
        ("a\0b?.csv", "a_b_.csv"),
        ("..", "file"),
    ],
)
def test_a_name_cannot_lead_out_of_the_folder(given: str, kept: str) -> None:
    assert landing.safe_name(given) == kept


def decision(why: str = "looked at the film", position: int = 0) -> decided.Decision:
    answer = decided.Answer(action="mend", who="Ira", why=why)
    targets = {"abc:3:Mass": {"stage": "row", "argument": "72.12"}}
    return decided.new_decision(answer, targets, at="2032-07-01T12:00:00+00:00", position=position)


def test_decisions_are_read_back_in_order(tmp_path: Path) -> None:
    path = tmp_path / "decisions.jsonl"
    first, second = decision(), decision("second look", 1)
    append_line(path, asdict(first))
    append_line(path, asdict(second))
    assert decided.read(path) == [first, second]


def test_a_torn_last_line_was_never_confirmed(tmp_path: Path) -> None:
    path = tmp_path / "decisions.jsonl"
    append_line(path, asdict(decision()))
    with path.open("ab") as stream:
        stream.write(b'{"action": "rej')
    assert decided.read(path) == [decision()]
    append_line(path, asdict(decision("after the power came back", 1)))
    assert [d.why for d in decided.read(path)] == ["looked at the film", "after the power came back"]


def test_a_manifest_is_checked_once_as_long_as_its_bytes_stay(tmp_path: Path, monkeypatch) -> None:
    stored = manifest(b"measured once")
    landing.store(tmp_path, stored, b"measured once")
    checked = []
    body = landing._manifest_bytes
    monkeypatch.setattr(landing, "_manifest_bytes", lambda one: checked.append(one) or body(one))
    for _ in range(3):
        assert landing.manifests(tmp_path) == [stored]
    assert checked == [stored]
    (path,) = tmp_path.glob("*/*.json")
    path.write_text(path.read_text(encoding="utf-8").replace("tester", "nobody"), encoding="utf-8")
    with pytest.raises(LandingError, match="changed after it was written"):
        landing.manifests(tmp_path)


def test_a_damaged_line_is_named(tmp_path: Path) -> None:
    path = tmp_path / "decisions.jsonl"
    append_line(path, asdict(decision()))
    path.write_bytes(b"{]\n" + path.read_bytes())
    with pytest.raises(DecisionError, match=r"decisions.jsonl, line 1: cannot be read"):
        decided.read(path)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"action": "forget"}, "'forget' is not one of"),
        ({"why": "  "}, "needs who decided and why"),
    ],
)
def test_a_decision_must_be_whole(change: dict[str, str], message: str) -> None:
    answer = dataclasses.replace(decided.Answer(action="reject", who="Ira", why="x"), **change)
    with pytest.raises(DecisionError, match=message):
        decided.new_decision(answer, {"a:1:b": {}}, at="2032", position=0)


def test_a_decision_names_a_row() -> None:
    with pytest.raises(DecisionError, match="no row was named"):
        decided.new_decision(decided.Answer(action="reject", who="Ira", why="x"), {}, at="2032", position=0)
