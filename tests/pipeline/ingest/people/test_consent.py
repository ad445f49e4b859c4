"""Consent: what stands today, why the rest does not, and that a withdrawal counts without a build."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest

from latewood.pipeline.errors import ConsentError
from latewood.pipeline.ingest.actions import land_files
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.consent import agreed, consent_book
from latewood.pipeline.ingest.consent.agreed import Consent, Consents
from latewood.pipeline.ingest.logs import audit
from tests.audited import logged_actions
from tests.conftest import Camp

pytestmark = pytest.mark.usefixtures("rows_only")

HEAD = "athlete,given_by,given_on,fields,measures,expires_on,withdrawn_on\n"
TODAY = date(2032, 8, 20)
MINOR, ADULT = date(2016, 3, 1), date(2014, 3, 1)
GIVEN = Consent(
    athlete_id="T1", given_by="guardian", given_on=date(2032, 6, 1), expires_on=date(2032, 12, 1),
    withdrawn_on=None, fields=("height",), measures=("exit_speed",), photo=False, projection=False,
    name_shown="", reference="", import_id="", row_no=0,
)  # fmt: skip


@pytest.fixture
def heath(camp: Camp) -> Camp:
    build(camp.root)
    return camp


@pytest.mark.parametrize(
    ("changed", "birth", "words"),
    [
        ({}, MINOR, ""),
        ({"expires_on": TODAY}, MINOR, ""),
        ({"expires_on": date(2032, 8, 19)}, MINOR, "ended on 2032-08-19"),
        ({"given_on": date(2032, 8, 21)}, MINOR, "begins on 2032-08-21"),
        ({"withdrawn_on": TODAY}, MINOR, "withdrawn on 2032-08-20"),
        ({"given_by": "athlete"}, MINOR, "given by an athlete under 18"),
        ({"given_by": "athlete"}, None, "no birth date"),
        ({"given_by": "athlete"}, ADULT, ""),
        ({"given_by": "athlete"}, date(2014, 6, 2), "given by an athlete under 18"),
        ({}, date(2014, 8, 20), "now 18"),
        ({}, date(2014, 8, 21), ""),
    ],
)
def test_what_stands_and_what_does_not(changed: dict[str, object], birth: date | None, words: str) -> None:
    book = Consents(by_athlete={"T1": replace(GIVEN, **changed)}, unreadable=frozenset())
    result = agreed.refusal(book, "T1", birth, TODAY)
    assert words in result
    assert bool(result) == bool(words)


def test_no_consent_is_a_refusal_that_names_the_mend(heath: Camp) -> None:
    assert set(consent_book.refusals(heath.root)) == {"T1", "T2", "T3", "T4", "T5"}
    assert all(
        "no consent is recorded; ask the guardian" in r for r in consent_book.refusals(heath.root).values()
    )


def test_a_file_of_consents_counts_before_any_build(heath: Camp) -> None:
    path = heath.write(
        "consents.csv", HEAD + "Arlo Fernmoss,guardian,2032-06-01,all,exit speed|Throw speed,,\n"
    )
    before = heath.rows("select build_id from build_log")
    land_files(heath.root, [path], "Ira")
    result = consent_book.standing(heath.root).by_athlete["T1"]
    assert heath.rows("select build_id from build_log") == before
    assert (result.measures, result.fields) == (("exit_speed", "throw_speed"), agreed.FIELDS)
    assert result.expires_on == date(2032, 12, 1)
    assert result.covers("exit_speed")
    assert not result.covers("sprint_60yd")
    assert consent_book.refusals(heath.root)["T1"] == ""
    line = audit.lines(heath.root)[-1]
    assert (line.event, line.who, line.details["rows"]) == ("consent", "Ira", 1)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("T1,coach,2032-06-01,all,all,,", "given_by: 'coach' is not one of athlete, guardian"),
        ("T1,guardian,soon,all,all,,", "given_on: 'soon' is not a date"),
        ("T1,guardian,2032-06-01,medical,all,,", "fields: 'medical' is not one of"),
        ("T1,guardian,2032-06-01,all,beard,,", "measures: 'beard' is not in the catalogue"),
        ("T1,guardian,2032-06-01,all,all,2032-05-01,", "expires_on is before given_on"),
        ("T1,guardian,2032-06-01,,all,,", "fields is empty"),
        ("Rowan Dunegrass,guardian,2032-06-01,all,all,,", "names 2 athletes"),
    ],
)
def test_a_row_that_cannot_be_read_is_held_and_lets_nothing_out(heath: Camp, row: str, words: str) -> None:
    heath.take("early.csv", HEAD + "T1,guardian,2032-06-01,all,all,,\n")
    heath.take("late.csv", HEAD + row + "\n")
    (reason,) = heath.rows("select reason from held_row where rule = 'people_row'")[0]
    assert words in reason
    if row.startswith("T1"):
        assert "cannot be read" in consent_book.refusals(heath.root)["T1"]


def test_a_withdrawal_by_form_counts_at_once_and_a_new_consent_again(heath: Camp) -> None:
    for given_on in (GIVEN.given_on, TODAY):  # a consent given before the withdrawal is no new one
        consent_book.record(heath.root, replace(GIVEN, given_on=given_on), "Ira")
        assert consent_book.refusals(heath.root)["T1"] == ""
        consent_book.withdraw(heath.root, "T1", "Ira")
        assert "withdrawn on 2032-08-20" in consent_book.refusals(heath.root)["T1"]
    with pytest.raises(ConsentError, match="has no consent that could be withdrawn"):
        consent_book.withdraw(heath.root, "T1", "Ira")
    assert [line.event for line in logged_actions(heath.root)] == ["consent"] * 4
    assert "T1" not in str([line.details for line in audit.lines(heath.root)])
    reference = consent_book.standing(heath.root).by_athlete["T1"].reference
    assert len(re.findall("form", reference)) == 1


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"athlete_id": "T9"}, "is not on any roster"),
        ({"given_by": "athlete"}, "under 18"),
        ({"expires_on": date(2032, 5, 1)}, "expires_on is before given_on"),
        ({"fields": (), "measures": ()}, "names nothing that may be shown"),
        ({"given_by": "coach"}, "given_by: 'coach' is not one of"),
        ({"measures": ("beard",)}, "'beard' is not in the catalogue"),
        ({"fields": ("medical",)}, "fields: 'medical' is not one of"),
    ],
)
def test_a_form_that_would_not_stand_is_not_recorded(
    heath: Camp, changed: dict[str, object], words: str
) -> None:
    with pytest.raises(ConsentError, match=words):
        consent_book.record(heath.root, replace(GIVEN, **changed), "Ira")
    assert consent_book.standing(heath.root).by_athlete == {}


def test_a_mapping_for_every_file_does_not_catch_the_form(heath: Camp) -> None:
    (heath.root / "mappings" / "any.toml").write_text(
        'applies_to = "*"\nkind = "readings"\n', encoding="utf-8"
    )
    consent_book.record(heath.root, GIVEN, "Ira")
    assert consent_book.refusals(heath.root)["T1"] == ""


@pytest.mark.parametrize("given_on", ["2032-06-01", "2032-05-20"])
def test_a_later_file_without_the_column_takes_no_withdrawal_back(heath: Camp, given_on: str) -> None:
    short = "athlete,given_by,given_on,fields,measures\n"
    heath.take("c.csv", HEAD + "T1,guardian,2032-06-01,all,all,2032-07-30,2032-07-10\n")
    heath.take("later.csv", short + f"T1,guardian,{given_on},all,all\n")
    assert "withdrawn on 2032-07-10" in consent_book.refusals(heath.root)["T1"]
    heath.take("new.csv", short + "T1,guardian,2032-08-01,all,all\n")
    assert consent_book.refusals(heath.root)["T1"] == ""


def test_a_later_file_without_the_column_does_not_lengthen_a_consent(heath: Camp) -> None:
    heath.take("c.csv", HEAD + "T1,guardian,2032-06-01,all,all,2032-07-30,\n")
    heath.take("later.csv", "athlete,given_by,given_on,fields,measures\nT1,guardian,2032-06-01,all,all\n")
    assert "ended on 2032-07-30" in consent_book.refusals(heath.root)["T1"]
