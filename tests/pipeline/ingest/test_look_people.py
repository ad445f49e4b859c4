"""Whose a name of a sheet is: given where it is the same but for its writing, asked in every other case."""

from __future__ import annotations

import pytest

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.ingest.look.people import look_at_names, sure_ids
from latewood.pipeline.ingest.look.proposal import Known


def known(*names: str) -> Known:
    return Known(catalogue=load_catalogue(), names={}, shown={f"T{n}": name for n, name in enumerate(names)})


@pytest.mark.parametrize(
    "text", ["Fernmoss, Arlo", "ARLO FERNMOSS", "Árlo Fernmoss", "Arlo B. Fernmoss", "Fernmoss, Arlo B"]
)
def test_the_same_name_written_another_way_is_given(text: str) -> None:
    assert sure_ids(text, known("Arlo Fernmoss", "Bram Siltwood")) == ("T0",)


@pytest.mark.parametrize("text", ["Arlo C. Fernmoss", "Fernmoss, Arlo C"])
def test_another_middle_initial_may_be_somebody_else_and_is_asked(text: str) -> None:
    people = known("Arlo B. Fernmoss", "Bram Siltwood")
    assert sure_ids(text, people) == ()
    (look,), (question,) = look_at_names([text], people, {})
    assert (look.chosen, question.answer) == ("", "")
    assert question.choices[0].startswith("T0")


def test_a_short_first_name_is_offered_and_never_given() -> None:
    people = known("William Siltwood")
    assert sure_ids("Bill Siltwood", people) == ()
    (look,), (question,) = look_at_names(["Bill Siltwood"], people, {})
    assert look.chosen == ""
    assert question.choices[0].startswith("T0")


def test_a_name_that_fits_two_is_asked() -> None:
    people = known("Rowan Dunegrass", "Rowan T. Dunegrass")
    (look,), (question,) = look_at_names(["Dunegrass, Rowan"], people, {})
    assert look.chosen == ""
    assert {one[:2] for one in question.choices[:2]} == {"T0", "T1"}
