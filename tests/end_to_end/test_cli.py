"""The command line as a steward types it: exit codes, errors in one line, nothing cut short that is typed again."""

from __future__ import annotations

from pathlib import Path

from tests.conftest import CAMPS, LONG, ROSTER, STAYS
from tests.typed_command import latewood


def test_a_first_camp_from_the_guide(tmp_path: Path) -> None:
    root, inbox = tmp_path / "data", tmp_path / "inbox"
    inbox.mkdir()
    for name, text in (("roster.csv", ROSTER), ("camps.csv", CAMPS), ("stays.csv", STAYS)):
        (inbox / name).write_text(text, encoding="utf-8")
    odd = "[/red] =cmd|' /C calc'!A0"
    readings = LONG + f'"{odd}",2032-06-05,body_mass,70,kg,1\nT1,2032-06-05,body_mass,70,kg,1\n'
    (inbox / "readings.csv").write_text(readings, encoding="utf-8")
    assert latewood("init", "--data", root).returncode == 0
    (root / "program.toml").write_text('clock = "2032-08-20"\n', encoding="utf-8")
    taken = latewood("import", inbox, "--data", root, "--by", "Ira")
    assert taken.returncode == 0, taken.stderr
    assert "1 row is held for a decision" in taken.stdout
    held = latewood("held", "--rows", "--data", root)
    assert odd[:6] in held.stdout
    status = latewood("status", "--data", root)
    assert "up to date" in status.stdout
    group = next(w for w in latewood("held", "--data", root).stdout.split("│") if "red" in w).strip()
    refused = latewood("decide", "correct", group, "--why", "x", "--data", root)
    assert refused.returncode == 2
    assert refused.stderr.startswith("latewood: ")
    assert refused.stderr.count("\n") == 1
    assert latewood("withdraw", "nothing", "--why", "x", "--data", root).returncode == 2


def test_what_cannot_be_done_says_so_and_exits_with_2(tmp_path: Path) -> None:
    for words in (
        ("status", "--data", tmp_path / "empty"),
        ("import", tmp_path / "no.csv", "--data", tmp_path / "empty"),
        ("held", "--rule", "no_such_rule", "--data", tmp_path),
        ("measures", "no_such_measure", "--data", tmp_path),
    ):
        done = latewood(*words)
        assert done.returncode == 2, (words, done.stdout, done.stderr)
        assert done.stderr.startswith("latewood: ")
        assert "Traceback" not in done.stderr


def test_the_catalogue_and_the_dictionary_are_printed() -> None:
    one = latewood("measures", "exit speed")
    assert "front toss" in one.stdout
    assert "## held_row" in latewood("dictionary").stdout
