from dataclasses import replace

from made import EXIT, TEE, lookup

from latewood.dashboard.charts.links import link_sheet
from latewood.dashboard.views.athlete.strength_link import (
    ProgramLinks,
    build_links,
    carries_sentence,
    per_strength_sentence,
    relative_sentences,
)
from latewood.dashboard.views.cohorts.link_camps import over_camps_sentence
from latewood.pipeline.stats.links.results import (
    LinkSpread,
    MassLink,
    MassOrStrength,
    RelativeStrength,
    StrengthLink,
)

LIFT = replace(
    EXIT, measure="trap_bar_deadlift", label="Trap-bar deadlift, 1RM", family="strength", unit="kg", resolution=2.5,
    decimals=1, position=9,
)  # fmt: skip
STRENGTH = StrengthLink(
    measure="exit_speed", line=TEE, strength_measure="trap_bar_deadlift", strength_line="", adjustment="time",
    per_kg=0.02, standard_error=0.008, low=0.004, high=0.036, between_per_kg=0.05, n_athletes=102, n_sessions=539,
    n_tests=800, reliability=0.5, inflation=5.0, time_form="log", strength_form="log", verdict="estimated", reason="",
    level=0.95, method="test",
)  # fmt: skip
REFUSED = replace(
    STRENGTH, per_kg=None, standard_error=None, low=None, high=None, verdict="refused",
    reason="12 athletes, 15 are needed",
)  # fmt: skip
MASS = MassLink(
    scope="program", measure="exit_speed", line=TEE, adjustment="time", per_kg=0.11, standard_error=0.04, low=0.03,
    high=0.19, between_per_kg=0.2, n_athletes=110, n_sessions=560, inflation=4.0, time_form="log",
    verdict="estimated", reason="", level=0.95, method="test",
)  # fmt: skip
CARRIED = MassOrStrength(
    measure="exit_speed", line=TEE, mass_gain_sd=1.2, strength_gain_sd=4.8, mass_share=0.13, mass_low=0.02,
    mass_high=0.24, strength_share=0.1, strength_low=-0.1, strength_high=0.3, difference=0.03, difference_low=-0.2,
    difference_high=0.26, n_athletes=102, n_sessions=539, verdict="is not known",
    reason="the range of the difference holds zero", level=0.95, method="test",
)  # fmt: skip
SPREAD = LinkSpread(
    measure="exit_speed", line=TEE, n_camps=5, n_left_out=1, n_athletes=120, n_shared=3, mean=0.11, mean_low=0.02,
    mean_high=0.20, spread=0.05, spread_low=0.0, spread_high=0.15, share=0.2, next_low=-0.1, next_high=0.3,
    verdict="estimated", reason="", level=0.95, method="test",
)  # fmt: skip
NOTHING = dict.fromkeys(
    ("mass_gain_sd", "strength_gain_sd", "mass_share", "mass_low", "mass_high", "strength_share", "strength_low",
     "strength_high", "difference", "difference_low", "difference_high")
)  # fmt: skip
RELATIVE = RelativeStrength(
    athlete_id="T1", stay_id="T1@K", measure="trap_bar_deadlift", line="", first_on=None, last_on=None, n_tests=3,
    start_strength=112.0, end_strength=128.0, start_mass=66.1, end_mass=66.3, start_relative=6.85, end_relative=7.81,
    change_percent=14.0, low=5.0, high=24.0, exponent=2 / 3, verdict="shown", reason="", level=0.9, method="test",
)  # fmt: skip


def looked(system="metric"):
    plain = lookup(system)
    return replace(plain, measures={**plain.measures, LIFT.measure: LIFT})


def test_strength_is_told_per_ten_units_and_says_what_is_in_it() -> None:
    text = per_strength_sentence(STRENGTH, looked())
    assert text.startswith(
        "Each 10 kg an athlete added in Trap-bar deadlift, 1RM went with +0.7"
    )  # .2 m/s in km/h
    assert "at equal time in the program; 102 athletes." in text
    assert "Mass gained along with it is in this number, and so is whatever else lets" in text
    assert "10 lb" in per_strength_sentence(STRENGTH, looked("us"))
    spans = per_strength_sentence(replace(STRENGTH, low=-0.004), looked())
    assert "may be zero" in spans


def test_no_sentence_says_cause() -> None:
    words = carries_sentence(replace(CARRIED, verdict="strength", reason=""))
    text = " ".join((words, per_strength_sentence(STRENGTH, looked()), carries_sentence(CARRIED)))
    for word in ("because", "due to", "leads to", "caused", "makes"):
        assert word not in text
    assert "a usual gain of strength goes with more than a usual gain of mass" in words
    assert carries_sentence(CARRIED).startswith("Whether mass or strength goes with more is not known")


def test_both_bars_stand_on_one_scale_in_the_unit_of_the_output() -> None:
    larger = replace(CARRIED, verdict="mass", difference_low=0.01)
    (block,) = build_links(
        ProgramLinks(mass=[MASS], strength=[STRENGTH], carried=[larger]), ["skill_output"], looked()
    )
    assert [row.words.split(",")[0] for row in block.rows] == ["Mass", "Strength"]
    assert block.rows[0].value == 0.13 * 3.6
    assert link_sheet([block]).count("lw-account") == 2


def test_no_bar_is_drawn_where_it_is_not_known_which_goes_with_more() -> None:
    # its 0.02 to 0.24 compares athletes by how fast they gain, beside a program's number per kg that may be zero
    (block,) = build_links(
        ProgramLinks(mass=[MASS], strength=[STRENGTH], carried=[CARRIED]), ["skill_output"], looked()
    )
    assert block.rows == ()
    assert not block.refused
    assert "is not known" in link_sheet([block])


def test_a_refusal_gives_its_reason_and_no_bar() -> None:
    refused = replace(CARRIED, **NOTHING, verdict="refused", reason="12 athletes, 15 are needed")
    (block,) = build_links(
        ProgramLinks(mass=[], strength=[REFUSED], carried=[refused]), ["skill_output"], looked()
    )
    assert block.refused
    assert block.rows == ()
    assert "15 are needed" in link_sheet([block])
    assert (
        build_links(ProgramLinks(mass=[], strength=[REFUSED], carried=[refused]), ["speed"], looked()) == ()
    )


def test_strength_for_size_says_whether_no_change_can_be_ruled_out() -> None:
    day = looked().stays["T1@K"].arrived_on
    (text,) = relative_sentences([replace(RELATIVE, first_on=day, last_on=day)], "T1@K", looked())
    assert "+14 %" in text and "112.0" in text and "ruled out" not in text
    (unclear,) = relative_sentences(
        [replace(RELATIVE, first_on=day, last_on=day, low=-1.0)], "T1@K", looked()
    )
    assert unclear.endswith("no change cannot be ruled out.")
    (refused,) = relative_sentences(
        [replace(RELATIVE, change_percent=None, reason="2 tests")], "T1@K", looked()
    )
    assert refused.endswith("not shown, 2 tests.")
    assert relative_sentences([RELATIVE], "other", looked()) == ()


def test_the_mean_over_camps_stands_beside_the_link_of_all_athletes() -> None:
    (block,) = build_links(
        ProgramLinks(mass=[MASS], strength=[STRENGTH], carried=[CARRIED], spreads=[SPREAD]),
        ["skill_output"],
        looked(),
    )
    text = block.sentences[1].replace("\u00a0", " ")
    assert "in the mean over 5 camps: +0.40 km/h with each kg (+0.07 to +0.72)." in text
    assert "Camps lie 0.18 km/h from that mean as a rule, at most 0.54 km/h" in text
    assert "in one more camp like these it would be \u22120.36 to +1.08. 1 left out" in text
    pounds = over_camps_sentence(SPREAD, looked("us")).replace("\u00a0", " ")
    assert "+0.11 mph with each lb (+0.02 to +0.20)" in pounds
    assert "may be zero" in over_camps_sentence(replace(SPREAD, mean_low=-0.01), looked())


def test_too_few_camps_say_so_and_other_lines_say_nothing() -> None:
    empty = {
        f: None for f in ("mean", "mean_low", "mean_high", "spread", "spread_high", "next_low", "next_high")
    }
    few = replace(
        SPREAD, **empty, verdict="refused", reason="2 of 6 camps have a link of their own, 3 are needed"
    )
    assert over_camps_sentence(few, looked()) == (
        "Camp by camp: no number, 2 of 6 camps have a link of their own, 3 are needed."
    )
    other = replace(SPREAD, measure="sprint_60yd")
    (block,) = build_links(
        ProgramLinks(mass=[MASS], strength=[STRENGTH], carried=[CARRIED], spreads=[other]),
        ["skill_output"],
        looked(),
    )
    assert not any("Camp by camp" in text for text in block.sentences)
