"""A program's own measures file: what it may add and change, and how a wrong one is refused."""

from __future__ import annotations

import re

import pytest

from latewood.pipeline.catalogue.document import catalogue_markdown
from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.catalogue.lookup import band_for, line_label, line_of
from latewood.pipeline.catalogue.model import SummaryRule
from latewood.pipeline.errors import CatalogueError

CATALOGUE = load_catalogue()
MEASURES = list(CATALOGUE.measures.values())

NEW_MEASURE = """
[conditions.sled]
label = "Sled"
values = ["light", "heavy"]
must_match = true
meaning = "Another load is another test."
words = "{} sled"

[measures.sled_push]
label = "Sled push"
family = "strength"
unit = "s"
accepted_units = ["s"]
better = "lower"
resolution = 0.01
decimals = 2
hard_low = 1
hard_high = 20
trials = 2
summary = "mean"
summary_reason = "Two pushes have equal worth."
conditions = ["sled", "surface"]
protocol = "Push ten yards. Two pushes."
source = "common practice, no source"
"""


def test_one_entry_adds_a_measure() -> None:
    catalogue = load_catalogue(NEW_MEASURE)
    assert list(catalogue.measures)[-1] == "sled_push"
    assert len(catalogue.measures) == len(MEASURES) + 1
    assert catalogue.overridden == ("sled_push",)
    sled = catalogue.measures["sled_push"]
    assert line_label(sled, line_of(sled, {"sled": "heavy"})) == "heavy sled (surface not stated)"
    assert "### Sled push" in catalogue_markdown(catalogue)


def test_a_known_key_changes_only_the_fields_it_gives() -> None:
    changed = load_catalogue("[measures.exit_speed]\nstated_in = 'km/h'\nhard_high = 216\ntrials = 6\n")
    exit_speed, before = changed.measures["exit_speed"], CATALOGUE.measures["exit_speed"]
    assert exit_speed.hard_high == pytest.approx(60.0)
    assert (exit_speed.trials, exit_speed.keep) == (6, 6)
    assert (exit_speed.bands, exit_speed.typical_error) == (before.bands, before.typical_error)
    assert changed.overridden == ("exit_speed",)
    assert list(changed.measures) == list(CATALOGUE.measures)


def test_bands_may_be_stated_in_another_unit() -> None:
    text = "[measures.body_mass]\nstated_in = 'lb'\nbands = [{ ages = [12, 20], range = [100, 220] }]\n"
    mass = load_catalogue(text).measures["body_mass"]
    band = band_for(mass, "softball", 15.0)
    assert band is not None
    assert (band.low, band.high) == pytest.approx((45.359237, 99.7903214), rel=1e-12)
    assert mass.hard_low == 28


def test_bands_may_meet_at_an_age_in_any_order() -> None:
    bands = "{ ages = [14, 16], range = [40, 90] }, { ages = [12, 14], range = [20, 80] }"
    squat = load_catalogue(f"[measures.squat]\nbands = [{bands}]").measures["squat"]
    before, after = (band_for(squat, "baseball", age) for age in (13.99, 14.0))
    assert before is not None
    assert after is not None
    assert (before.low, after.low) == (20, 40)


def test_another_summary_drops_the_number_kept() -> None:
    jump = load_catalogue("[measures.countermovement_jump]\nsummary = 'median'\n").measures[
        "countermovement_jump"
    ]
    assert (jump.summary, jump.keep) == (SummaryRule.MEDIAN, 3)


def test_a_changed_condition_marks_all_measures_that_use_it() -> None:
    changed = load_catalogue("[conditions.timing]\nvalues = ['hand', 'electronic', 'video']\n")
    assert set(changed.overridden) == {m.key for m in MEASURES if "timing" in {c.key for c in m.conditions}}
    assert len(changed.overridden) == 6


def test_the_digest_follows_the_content_and_not_the_writing() -> None:
    assert load_catalogue().digest == CATALOGUE.digest == load_catalogue("# nothing\n").digest
    assert load_catalogue("[measures.squat]\ntrials = 1\n").digest == CATALOGUE.digest
    assert load_catalogue("[measures.squat]\ntrials = 2\n").digest != CATALOGUE.digest
    assert re.fullmatch(r"[0-9a-f]{64}", CATALOGUE.digest)


def new_with(line: str) -> str:
    """The new measure with one of its fields written as `line`."""
    field = line.split(" = ")[0]
    section = NEW_MEASURE.index("[measures")
    body = re.sub(rf"^{field} = .*\n", "", NEW_MEASURE[section:], flags=re.MULTILINE)
    return f"{NEW_MEASURE[:section]}{body}{line}\n"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[measures", "club.toml: not readable as TOML \\(expected"),
        ("x = 1", "club.toml: unknown table \\(got 'x'; accepted: conditions, measures\\)"),
        ("measures = 3", "club.toml: measures holds something that is no table"),
        (
            "[measures.a]\nlabel = 'A'",
            "measure 'a', field 'unit': missing \\(got nothing; accepted: kg, g, lb",
        ),
        ("[measures.squat]\nhard_hgh = 1", "field 'hard_hgh': unknown field .*; write 'hard_high'$"),
        (
            "[measures.exit_speed]\nhard_high = 50",
            "field 'stated_in': missing beside 'hard_high' .*accepted: m/s, mph",
        ),
        (
            "[measures.exit_speed]\nunit = 'mph'",
            "field 'unit': the unit of a built-in measure is fixed \\(got 'mph'",
        ),
        (
            "[measures.squat]\nstated_in = 'mph'\nhard_low = 5",
            "field 'stated_in': another quantity .*got 'mph'",
        ),
        (
            "[measures.squat]\nalso = ['EV']",
            "measure 'squat', .*name already taken \\(got 'ev'; .*'exit_speed'",
        ),
        (
            "[measures.squat]\ntypical_error = 0",
            "field 'typical_error': not above zero \\(got 0.0; .*leave the field",
        ),
        (
            "[measures.squat]\nhard_low = 400",
            "field 'hard_low': not below hard_high \\(got 400.0; .*below 350.0",
        ),
        ("[measures.squat]\nkeep = 1", "field 'keep': has no use with 'best' \\(got 1"),
        (
            "[measures.sprint_10yd]\nkeep = 4",
            "field 'keep': more than the trials \\(got 4; accepted: 1 to 3\\)",
        ),
        (
            "[measures.squat]\nhard_high = nan",
            "field 'hard_high': not a number \\(got nan; accepted: a finite number",
        ),
        ("[measures.obs_lunge]\nhard_high = 3", "field 'hard_high': given for a rating"),
        (
            "[measures.squat]\nbands = [{ ages = [12, 14], range = [1, 9] }]",
            "bands.range': outside the hard limits",
        ),
        (
            "[measures.squat]\nbands = [{ ages = [12, 14], range = [20, 90] },"
            "{ ages = [13, 15], range = [20, 90] }]",
            "bands.ages': overlap for any \\(got \\[13.0, 15.0\\]",
        ),
        (
            "[measures.squat]\nbands = [{ ages = [14], range = [20, 90] }]",
            "bands.ages': not a pair \\(got \\[14\\]",
        ),
        ("[measures.squat]\nbands = [{ sex = 'male' }]", "bands.sex': unknown field"),
        ("[measures.squat]\nbands = [{ sport = 'golf' }]", "bands.sport': not a known sport \\(got 'golf'"),
        (
            "[conditions.ball]\nvalues = ['a=b']",
            "condition 'ball', field 'values': not a plain word \\(got 'a=b'",
        ),
        ("[conditions.ball]\nvalues = ['not stated']", "field 'values': .*; remove it: it is implied"),
        ("[conditions.ball]\nwords = 'ball'", "field 'words': no place for the value"),
        ("[conditions.ball]\nwords = '{} {x}'", "field 'words': no place for the value"),
        (
            "[conditions.ball]\nspellings = { x = 'y' }",
            "field 'spellings': not a value of the condition \\(got 'y'",
        ),
        ("[conditions.ball]\nmust_match = 1", "field 'must_match': neither true nor false \\(got 1"),
        (
            "[conditions.unit]\nvalues = ['a']",
            "condition 'unit', field 'key': a column every readings file has",
        ),
        (
            new_with("better = 'up'"),
            "field 'better': not a known word \\(got 'up'; accepted: higher, lower, neither",
        ),
        (
            new_with("family = 'power'"),
            "field 'family': not a known word \\(got 'power'; accepted: build, strength",
        ),
        (new_with("unit = 'stone'"), "field 'unit': not a known word \\(got 'stone'; accepted: kg, g, lb"),
        (
            new_with("accepted_units = ['s', 'm']"),
            "field 'accepted_units': not a unit of time \\(got 'm'; accepted: s",
        ),
        (new_with("accepted_units = ['ms']"), "field 'accepted_units': the measure's own unit is missing"),
        (new_with("trials = 0"), "field 'trials': not a whole number in range \\(got 0; accepted: 1 or more"),
        (new_with("decimals = true"), "field 'decimals': not a whole number in range \\(got True"),
        (new_with("resolution = '1'"), "field 'resolution': not a number \\(got '1'"),
        (
            new_with("summary = 'max'"),
            "field 'summary': not a known word \\(got 'max'; accepted: median, mean, best",
        ),
        (
            new_with("conditions = ['slope']"),
            "field 'conditions': not declared \\(got 'slope'; .*conditions.slope",
        ),
        (new_with("protocol = ' '"), "field 'protocol': not a text"),
        (new_with("ratings = ['a', 'b']"), "field 'ratings': given for a number"),
        (new_with("kind = 'rating'"), "field 'ratings': missing"),
        (
            new_with("rep_formula = 'guess'"),
            "field 'rep_formula': not a known word \\(got 'guess'; accepted: epley",
        ),
        ("[measures.BadKey]\nunit = 's'", "measure 'BadKey', field 'key': not a plain key"),
    ],
)
def test_a_wrong_file_is_refused_with_place_and_mend(text: str, message: str) -> None:
    with pytest.raises(CatalogueError, match=message) as caught:
        load_catalogue(text, origin="club.toml")
    assert str(caught.value).startswith("club.toml")
    assert "\n" not in str(caught.value)
