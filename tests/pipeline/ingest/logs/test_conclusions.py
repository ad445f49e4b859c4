"""Conclusions kept between builds: as in the warehouse, whole or not kept, pruned by visits, erased with an athlete."""

from __future__ import annotations

import gzip
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from latewood.pipeline.care.erase import erase
from latewood.pipeline.errors import BuildError
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.logs import conclusions
from latewood.pipeline.ingest.people.visits import note_visit
from tests.conftest import LONG, Camp

READINGS = LONG + "".join(
    f"{athlete},2032-06-{day:02d},broad_jump,{200 + day + at},cm,{trial}\n"
    for at, athlete in enumerate(("T1", "T2"))
    for day in (2, 9, 16, 23)
    for trial in (1, 2)
)


@pytest.fixture
def built(camp: Camp) -> tuple[Camp, str]:
    camp.take("jumps.csv", READINGS)
    return camp, build(camp.root).build_id


def test_what_is_kept_is_what_the_build_concludes(built: tuple[Camp, str]) -> None:
    camp, build_id = built
    result = conclusions.conclude(camp.root, build_id)
    rows = camp.rows(
        "select athlete_id, stay_id, measure, n_sessions, change, verdict from trend order by athlete_id"
    )
    assert [
        (t.athlete_id, t.stay_id, t.measure, t.n_sessions, t.change, t.verdict) for t in result.trends
    ] == rows
    values = camp.rows("select held_on, value from session_value where athlete_id = 'T1' order by held_on")
    assert result.trends[0].sessions == tuple(values)
    assert len(values) == 4
    assert result.n_open == camp.rows("select count(*) from held_row where state = 'open'")[0][0]
    assert result.imports == {row[0] for row in camp.rows("select import_id from import")}
    conclusions.keep(camp.root, result)
    assert conclusions.kept(camp.root, build_id) == result


def test_a_build_that_is_gone_is_said(camp: Camp) -> None:
    with pytest.raises(BuildError, match="no longer there"):
        conclusions.conclude(camp.root, "f" * 16)


@pytest.mark.parametrize(
    "damage", [b"", b"\x1f\x8b", b"{}", gzip.compress(b"{}", mtime=0), gzip.compress(b"[1]", mtime=0)]
)
def test_a_damaged_file_counts_as_not_kept(damage: bytes, built: tuple[Camp, str]) -> None:
    camp, build_id = built
    conclusions.keep(camp.root, conclusions.conclude(camp.root, build_id))
    conclusions.path_of(camp.root, build_id).write_bytes(damage)
    assert conclusions.kept(camp.root, build_id) is None
    assert conclusions.kept(camp.root, "e" * 16) is None


def test_a_form_of_another_version_is_not_read(built: tuple[Camp, str], monkeypatch) -> None:
    camp, build_id = built
    monkeypatch.setattr(conclusions, "FORM", 2)
    conclusions.keep(camp.root, conclusions.conclude(camp.root, build_id))
    monkeypatch.undo()
    assert conclusions.kept(camp.root, build_id) is None


def test_what_no_visit_names_goes_and_what_one_names_stays(built: tuple[Camp, str]) -> None:
    camp, build_id = built
    now = conclusions.conclude(camp.root, build_id)
    observed, unseen = replace(now, build_id="a" * 16), replace(now, build_id="b" * 16)
    note_visit(camp.root, "sage@example.org", date(2032, 8, 1), "a" * 16)
    for one in (unseen, observed, now):
        conclusions.keep(camp.root, one)
    assert {path.name for path in (camp.root / conclusions.FOLDER).glob("*.gz")} == {
        f"{'a' * 16}.json.gz", f"{build_id}.json.gz",
    }  # fmt: skip


def all_text(root: Path) -> str:
    return "".join(
        gzip.decompress(path.read_bytes()).decode() for path in (root / conclusions.FOLDER).glob("*.gz")
    )


def test_an_erased_athlete_is_in_no_kept_conclusion_and_in_no_note_of_a_build(
    built: tuple[Camp, str],
) -> None:
    camp, build_id = built
    note_visit(camp.root, "sage@example.org", date(2032, 8, 1), build_id)
    conclusions.keep(camp.root, conclusions.conclude(camp.root, build_id))
    with (camp.root / "warehouse" / "builds.jsonl").open("a", encoding="utf-8") as log:
        log.write(
            '{"at": "2032-08-01T12:00:00", "outcome": "failed", "reason": "Arlo Fernmoss.csv is wrong"}\n'
        )
    assert "T1@K" in all_text(camp.root)
    erase(camp.root, "T1", "Odalys")
    text = all_text(camp.root)
    assert "T1" not in text
    assert "T2@K" in text
    assert "Arlo" not in (camp.root / "warehouse" / "builds.jsonl").read_text(encoding="utf-8")
    result = conclusions.kept(camp.root, build_id)
    assert result is not None
    assert {one.athlete_id for one in result.trends} == {"T2"}
