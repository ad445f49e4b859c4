"""The first sight of an athlete: what is named, what waits, strength for mass, and the outputs of a position."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from made import ARLO, DAYS, LATER, STAY, TREND, UNCLEAR, VALUE, lookup

from latewood.dashboard.charts.first import output_cards
from latewood.dashboard.theme import LIGHT
from latewood.dashboard.views.athlete.first import FirstSight, build_first
from latewood.dashboard.views.athlete.head import neighbours_of
from latewood.dashboard.views.athlete.timeline import Record
from latewood.dashboard.views.lookup import Lookup
from latewood.pipeline.stats.change.results import RetestAdvice

TIMED = {"measure": "sprint_60yd", "line": ""}


def sight(
    trends=(TREND,), values=(VALUE, LATER), retests=(), mass=DAYS, look: Lookup | None = None, **who
) -> FirstSight:
    athlete = replace(ARLO, **who)
    record = Record(values=values, trends=trends, mass=mass, weighins=(), plans=(), bridges=())
    view = build_first(athlete, STAY, record, retests, look or lookup())
    return replace(
        view,
        sure=view.sure.replace("\u00a0", " "),
        waits=view.waits.replace("\u00a0", " "),
        strength=tuple(text.replace("\u00a0", " ") for text in view.strength),
    )


def with_measure(name: str, **other) -> Lookup:
    """A catalogue with one more measure, like the first one but for what is given."""
    view = lookup()
    made = replace(view.measures["exit_speed"], measure=name, **other)
    return replace(view, measures={**view.measures, name: made})


def test_what_changed_for_sure_is_named_with_its_range() -> None:
    assert (
        sight().sure
        == "Changed for sure: Exit speed +4.7 km/h (+1.8 to +7.6; 5 test days); 1 judged together."
    )
    worse = replace(
        TREND, change=-1.3, low=-2.1, high=-0.5, z=-3.2, verdict="clear loss", probability_better=0.001
    )
    assert ", for the worse; 1 judged" in sight((worse,)).sure


def test_a_time_is_faster_or_slower() -> None:
    timed = replace(TREND, **TIMED, change=-0.05, low=-0.08, high=-0.02, z=4.0)
    assert "0.05 s faster (0.02 to 0.08 faster; 5 test days)" in sight((timed,)).sure


def test_nothing_sure_is_said_and_too_few_tests_too() -> None:
    assert sight((UNCLEAR,)).sure == "Changed for sure: nothing so far, of 1 judged."
    assert sight(()).sure == "Nothing can be said of changes yet: it takes four test days of a measure."


def test_a_clear_change_that_many_looks_explain_is_not_called_sure() -> None:
    crowd = [replace(UNCLEAR, line=str(n), z=0.1) for n in range(400)]
    alone = sight((*crowd, replace(TREND, z=2.6))).sure
    assert alone.endswith(
        "nothing so far, of 401 judged (1 change clear alone, but not when all are taken together)."
    )


def test_what_waits_names_the_test_that_would_settle_most() -> None:
    advice = RetestAdvice(
        athlete_id="T1", stay_id="T1@K", measure="exit_speed", line=UNCLEAR.line, extra=1, weeks_apart=2.0,
        sure_now=0.9, sure_then=0.97, clear_then=True, chance_clear=0.62, n_sessions=5, level=0.95, method="test",
    )  # fmt: skip
    view = sight((UNCLEAR,), retests=(replace(advice, stay_id="other"), advice))
    assert view.waits == ("What waits: Exit speed (clear after one more test day: 62 %) and 1 not clear yet.")
    assert "62" not in sight((UNCLEAR,), retests=(replace(advice, chance_clear=0.4),)).waits
    assert sight((TREND,)).waits == "What waits: nothing."


def test_a_lift_stands_beside_the_mass_of_its_day_and_says_from_which_set() -> None:
    look = with_measure("squat", family="strength", unit="kg", label="Squat, 1RM", resolution=0.5, decimals=1)
    lift = replace(VALUE, measure="squat", line="", held_on=date(2032, 7, 6), value=110.85, best=110.85)
    assert sight(values=(lift,), look=look).strength == (
        "Squat, 1RM 110.8 kg (1.50 × body mass) on 6 Jul 2032",
    )
    of_set = replace(lift, set_load=95.0, set_reps=5)
    assert "1.50 × body mass; estimated from 95.0 kg × 5" in sight(values=(of_set,), look=look).strength[0]
    far = replace(lift, held_on=date(2032, 8, 11))
    assert "body mass" not in sight(values=(far,), look=look).strength[0]
    assert "body mass" not in sight(values=(lift,), mass=(), look=look).strength[0]


def test_the_position_decides_which_output_comes_first() -> None:
    look = with_measure("pitch_speed", label="Pitch speed", position=99)
    values = (VALUE, LATER, replace(VALUE, measure="pitch_speed"))
    order = {
        where: [one.name for one in sight(values=values, look=look, positions=where).outputs]
        for where in ("RHP/1B", "OF", "")
    }
    assert order["RHP/1B"] == ["Pitch speed", "Exit speed"]
    assert order["OF"] == order[""] == ["Exit speed", "Pitch speed"]


def test_an_output_gives_its_last_value_its_verdict_and_its_line() -> None:
    (output,) = sight().outputs
    assert output.now.replace("\u00a0", " ") == "127.4 km/h on 11 Aug"
    assert (output.verdict, output.clear) == ("Clear gain", True)
    assert output.points == ((0.0, 34.0), (70.0, 35.4))
    drawn = output_cards([output], LIGHT)
    assert drawn.count("<img") == 1
    assert "NaN" not in drawn
    (untested,) = sight(trends=()).outputs
    assert untested.verdict == "Too few test days to say: 2"
    (single,) = sight(trends=(), values=(VALUE,)).outputs
    assert "<img" not in output_cards([single], LIGHT)


def test_a_line_goes_up_where_a_time_goes_down() -> None:
    times = [replace(VALUE, **TIMED, value=1.9), replace(LATER, **TIMED, value=1.8)]
    (output,) = sight(trends=(), values=times).outputs
    assert output.points[1][1] > output.points[0][1]


def test_previous_and_next_are_by_name_within_the_camp() -> None:
    view = lookup()
    stays = {f"{one}@K": replace(STAY, stay_id=f"{one}@K", athlete_id=one) for one in view.athletes}
    both = replace(view, stays=stays)
    first, last = sorted(view.athletes, key=view.name)
    assert neighbours_of(first, both) == (None, last)
    assert neighbours_of(last, both) == (first, None)
