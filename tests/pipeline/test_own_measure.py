"""A measure of the program's own: all faults at once, saved once complete, taken by the next file."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from typer.testing import CliRunner

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.catalogue.own import ASKED, UNKNOWABLE, draft_of, entry_text, faults, with_entry
from latewood.pipeline.cli.main import app
from latewood.pipeline.errors import CatalogueError
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.ingest.program import prepare_folder, program_catalogue

CATALOGUE = load_catalogue()
OWN = {
    "family": "skill_output", "unit": "m/s", "accepted_units": "m/s, mph", "better": "higher", "resolution": "0.05",
    "hard_low": "3", "hard_high": "40", "trials": "3", "summary": "median", "summary_reason": "Three equal tries.",
    "typical_error": "not known yet", "smallest_change": "", "protocol": "Three slings.", "source": "own practice",
}  # fmt: skip


def words(root: Path, *more: str) -> list[str]:
    settings = [part for field, text in OWN.items() for part in ("--set", f"{field}={text}")]
    return ["measures", "--new", "Sling speed", *settings, *more, "--by", "Ira", "--data", str(root)]


@pytest.fixture
def root(tmp_path: Path) -> Path:
    prepare_folder(tmp_path / "data")
    return tmp_path / "data"


def test_an_empty_draft_names_every_field_that_is_needed_at_once() -> None:
    named = [fault.field for fault in faults(draft_of("Sling speed", {}), CATALOGUE)]
    assert named == [field for field in ASKED if field not in (*UNKNOWABLE, "label")]


def test_wrong_fields_are_named_together_and_right_ones_are_not() -> None:
    wrong = {**OWN, "family": "fast", "unit": "furlong", "hard_low": "50", "trials": "two", "keep": "9"}
    found = {one.field: one.text for one in faults(draft_of("Exit speed", wrong), CATALOGUE)}
    assert set(found) == {"key", "label", "family", "unit", "hard_low", "trials", "keep"}
    assert "build, strength" in found["family"]
    assert "use one of these words" in found["unit"]


def test_what_is_not_known_stands_as_a_remark_and_in_no_field() -> None:
    text = entry_text(draft_of("Sling speed", OWN))
    assert not set(tomllib.loads(text)["measures"]["sling_speed"]) & set(UNKNOWABLE)
    assert "# typical_error =  # not known yet" in text
    measure = load_catalogue(text).measures["sling_speed"]
    assert (measure.typical_error, measure.smallest_change, measure.decimals) == (None, None, 2)
    assert measure.accepted_units == ("m/s", "mph")


def test_another_measure_lends_its_form_but_not_its_words_or_errors() -> None:
    draft = draft_of("Sled run", {}, CATALOGUE.measures["sprint_10yd"])
    assert [one.field for one in faults(draft, CATALOGUE)] == ["summary_reason", "protocol", "source"]
    assert draft.table["conditions"] == ["timing", "start", "surface"]


CHANGED = "[measures.exit_speed]\ntrials = 4"


@pytest.mark.parametrize("before", ["", f"# ours\n{CHANGED}", f"{CHANGED}\n"])
def test_what_the_file_held_stays_as_it_was(before: str) -> None:
    after = with_entry(before, draft_of("Sling speed", OWN), load_catalogue(before))
    assert after.startswith(before)
    assert load_catalogue(after).measures["exit_speed"] == load_catalogue(before).measures["exit_speed"]
    assert "sling_speed" in load_catalogue(after).measures


def test_a_text_that_toml_could_take_for_something_else_comes_back_as_typed() -> None:
    hard = 'say "go" \\ then\n[measures.x]\tend \x7f é'
    text = with_entry("", draft_of("Sling speed", {**OWN, "protocol": hard}), CATALOGUE)
    assert load_catalogue(text).measures["sling_speed"].protocol == hard


def test_the_command_saves_it_once_and_logs_who(root: Path) -> None:
    done = CliRunner().invoke(app, words(root))
    assert done.exit_code == 0, done.output
    saved = (root / "measures.toml").read_text()
    assert program_catalogue(root).measures["sling_speed"].hard_high == 40
    last = audit.lines(root)[-1]
    assert (last.who, dict(last.details)) == ("Ira", {"action": "own measure", "measure": "sling_speed"})
    again = CliRunner().invoke(app, words(root))
    assert again.exit_code == 2
    assert "is a name of Sling speed (sling_speed) already" in again.output
    assert (root / "measures.toml").read_text() == saved


def test_the_command_saves_nothing_while_something_is_missing(root: Path) -> None:
    done = CliRunner().invoke(app, words(root, "--set", "protocol=", "--set", "source="))
    assert done.exit_code == 2
    assert "protocol: missing" in done.output
    assert "source: missing" in done.output
    assert not (root / "measures.toml").exists()


@pytest.mark.parametrize("more", [("--set", "colour=red"), ("--set", "trials"), ("--like", "nothing")])
def test_what_no_field_or_measure_is_called_is_refused(root: Path, more: tuple[str, str]) -> None:
    done = CliRunner().invoke(app, words(root, *more))
    assert isinstance(done.exception, CatalogueError)
    assert not (root / "measures.toml").exists()
