"""Shapes of files that the look had not met: what it takes is true, the rest waits or is refused with its reason."""

from __future__ import annotations

import re

import pytest

from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.look import sample
from latewood.pipeline.ingest.look.accept import accept, look_at
from latewood.pipeline.ingest.look.proposal import Proposal
from latewood.pipeline.ingest.look.propose import propose
from latewood.pipeline.warehouse.lookups import ids_of
from tests.conftest import Camp
from tests.look_camp import saved
from tests.pipeline.ingest.test_look import KNOWN, look
from tests.strange_files import DAYS, NAMES, SHAPES, Strange, a_hidden_column_and_numbers_that_are_text, book

BY_LABEL = {m.label: m for m in KNOWN.catalogue.measures.values()}


def answered(file: Strange) -> tuple[Proposal, ...]:
    """The proposals once every question is answered, by the file's own answers or as proposed."""
    answers = dict(file.answers)
    for _ in range(6):
        proposals = propose(file.name, file.content, KNOWN, answers)
        asked = {q.key: q.proposed for p in proposals for q in p.open}
        if not asked:
            return proposals
        assert all(asked.values()), asked
        answers |= asked
    raise AssertionError(asked)


@pytest.mark.parametrize("make", SHAPES)
def test_a_strange_file_comes_in_true_or_waits(make, monkeypatch):
    monkeypatch.setattr(sample, "SHOWN", 1000)
    file = make()
    proposals = answered(file)
    if file.refused:
        assert [p.problem for p in proposals if file.refused in p.problem] and not any(
            p.kind for p in proposals
        )
        return
    shown = [one for p in proposals for one in p.samples]
    held = [one for one in shown if "(" in one.athlete + one.day + one.value]
    names = {name: who for who, name in KNOWN.shown.items()}
    got: dict[tuple[str, str, str], list[str]] = {}
    for one in shown:
        if one not in held:
            got.setdefault((names[one.athlete], BY_LABEL[one.measure].key, one.day[:10]), []).append(
                one.value
            )
    want: dict[tuple[str, str, str], list[str]] = {}
    for (who, key, day, _), value in sorted(file.truth.items()):
        measure = KNOWN.catalogue.measures[key]
        want.setdefault((who, key, str(day)), []).append(
            f"{value:.{measure.decimals + 2}f} {measure.unit}".removesuffix(" 1")
        )
    assert got == want
    assert len(held) == file.held


def test_days_that_cannot_be_read_are_said_before_one_day_is_asked():
    (question,) = [
        q for q in look("s.csv", "Name,Date,Wt (kg)\nSilas Oakmere,session 1,70\n").open if q.key == "day"
    ]
    assert question.text.startswith("No day can be read in 'Date' (such as 'session 1')")


def test_a_second_table_is_no_row_of_the_first_where_somebody_did_not_run():
    rows = (
        "Silas Oakmere,2032-06-09,1.71",
        "",
        "Inés Holloway,2032-06-09,DNF",
        "Theodora Quill,2032-06-09,1.82",
    )
    text = "\n".join(("Name,Date,10 yd (s)", *rows))
    proposal = look("one.csv", text)
    assert (proposal.problem, len(proposal.samples), "part" in proposal.mapping_text) == ("", 2, False)


def test_ids_that_a_spreadsheet_made_floats():
    names = {"1012": ("1012",), "1013.0": ("x",)}
    assert [list(ids_of(t, names)) for t in ("1012.0", "1013.0", "1012.5", "01012.0")] == [
        ["1012"],
        ["x"],
        [],
        [],
    ]


def test_words_of_another_time_or_hand_are_not_answered_as_proposed():
    text = "Name,Date,Pre Wt (kg),Grip L (kg),Grip R (kg)\nSilas Oakmere,2032-06-09,70,40,44\n"
    asked = {q.key: q.proposed for q in look("pre.csv", text).open}
    assert asked == {"Pre Wt (kg): measure": "", "Grip L (kg): measure": "", "Grip R (kg): measure": ""}


def test_a_hidden_sheet_is_said():
    file = next(make() for make in SHAPES if make.__name__ == "a_hidden_sheet")
    notes = propose(file.name, file.content, KNOWN, {})[0].notes
    assert any("sheet 'old': is hidden" in note for note in notes)


def test_a_hidden_column_is_said_and_old_numbers_are_not_answered_as_proposed():
    file = a_hidden_column_and_numbers_that_are_text()
    (proposal,) = propose(file.name, file.content, KNOWN, {})
    assert "hidden columns are read too" in " ".join(proposal.notes)
    assert {q.key: q.proposed for q in proposal.open} == {"Old Wt (lb): measure": ""}


def test_a_workbook_of_a_known_shape_is_not_read_where_its_formulas_have_no_result(camp: Camp) -> None:
    """As the tool writes formulas: without their results. They would read as blank cells."""
    head, name = ("Player", "Date", "Wt (kg)", "10 yd (s)"), NAMES[0]
    good = saved(book(head, (name, DAYS[0], 70.5, 1.71)))
    looks = look_at(camp.root, [("first.xlsx", good)], {}, KNOWN)
    assert accept(camp.root, looks, "tester", build_after=False)[1] == []
    bad = saved(book(head, (name, DAYS[1], 71.5, 1.72), (name, DAYS[2], "=2*35", 1.73)))
    words = (
        r"^next.xlsx, sheet 'Sheet', cell C3: 1 formulas have no stored result; open the workbook .*, save it"
    )
    assert re.match(words, look_at(camp.root, [("next.xlsx", bad)], {}, KNOWN)[0].proposals[0].problem)
    with pytest.raises(FileUnreadableError, match=words):
        camp.take("next.xlsx", bad, next((camp.root / "mappings").glob("*.toml")))


@pytest.mark.parametrize(("name", "words"), [("june.zip", "is packed"), ("june.json", "is JSON")])
def test_what_is_no_table_says_what_to_do(name, words):
    (only,) = propose(name, b"PK\x03\x04 or [{}]", KNOWN, {})
    assert words in only.problem
