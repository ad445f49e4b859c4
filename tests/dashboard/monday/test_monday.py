"""The Monday views: what waits in which order, who is late, what became clear and why, and what luck would do."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest
from made import ARLO, CAMP, CLEO, PLAN, REVIEW, STAY, TEE, lookup

from latewood.dashboard.reads.rows import HeldRow, Stay
from latewood.dashboard.views.lookup import Lookup
from latewood.dashboard.views.monday.monday import Monday, build_monday, concerns
from latewood.dashboard.views.monday.monday_lines import (
    BUILDS,
    CONSENTS,
    GAINS,
    HELD,
    PLANS,
    RESULTS,
    TESTS,
    WEIGHINS,
    Found,
)
from latewood.dashboard.views.monday.monday_news import (
    CANNOT_TELL,
    CORRECTED,
    GONE,
    NEW_CODE,
    NEW_DATA,
    OTHERS,
    build_news,
    why,
)
from latewood.dashboard.views.monday.monday_tests import CampDay, DoneOn, build_calendar
from latewood.dashboard.views.plans.plan_case import PlanRecord
from latewood.pipeline.access import AT_THE_MACHINE, ROLES, Grant, Viewer
from latewood.pipeline.ingest.logs.build_notes import FailedBuild
from latewood.pipeline.ingest.logs.conclusions import Conclusion, Conclusions, PlanConclusion
from latewood.pipeline.ingest.logs.planlog import DECIDED, PlanEvent
from latewood.pipeline.ingest.people.visits import Visit, VisitDay
from latewood.pipeline.stats.plans.results import PlanAdvice

TODAY = date(2032, 7, 8)
LAST = date(2032, 7, 1)
NO_VISIT, VISIT = (
    Visit(before=None, trouble=""),
    Visit(before=VisitDay(on=LAST, build_id="a" * 16), trouble=""),
)
DAYS = (date(2032, 6, 2), date(2032, 6, 9), date(2032, 6, 16), date(2032, 6, 30))
ADVICE = PlanAdvice(
    **{
        **dict.fromkeys(PlanAdvice.__dataclass_fields__),
        "plan_id": "P1", "table_row": "2", "words": "Too fast",
        "offered": "Slow the gain.",
    }
)  # fmt: skip
SLOWED = replace(REVIEW, status="too fast", needs_decision=True)
NEXT_DOOR = replace(STAY, stay_id="T3@K", athlete_id="T3")


def viewer(*roles: str) -> Viewer:
    return Viewer(name="Sage", email="s@example.org", grants=tuple(Grant(role=ROLES[one]) for one in roles))


def page(
    found: Found, who: Viewer = AT_THE_MACHINE, today: date = TODAY, look: Lookup | None = None
) -> Monday:
    return build_monday(found, concerns(who), who, today, look or lookup())


def record(*pairs, advice=(), events=()) -> PlanRecord:
    reviews, plans = [one for one, _ in pairs], [one for _, one in pairs]
    return PlanRecord(reviews=reviews, plans=plans, mass=[], weighins=[], advice=advice, events=events)


def concluded(
    *trends: Conclusion, code: str = "1", data: str = "1", plans=(), n_open: int = 0
) -> Conclusions:
    return Conclusions(
        build_id="a" * 16, code=code, data=data, n_open=n_open, imports=frozenset({"i1"}), trends=trends, plans=plans
    )  # fmt: skip


def trend(verdict: str = "not clear yet", days=DAYS, values=None, z: float = 0.5, **other) -> Conclusion:
    given = tuple(zip(days, values or [34.0 + 0.1 * at for at in range(len(days))], strict=True))
    made = {
        "athlete_id": "T1", "stay_id": "T1@K", "camp_id": "K", "measure": "exit_speed", "line": TEE,
        "n_sessions": len(days), "change": 1.3, "low": 0.5, "high": 2.1, "z": z, "verdict": verdict, "sessions": given,
    }  # fmt: skip
    return Conclusion(**{**made, **other})


def held(rule: str, group: str, at: int) -> HeldRow:
    empty = dict.fromkeys(HeldRow.__dataclass_fields__)
    return HeldRow(**{**empty, "held_id": f"h{at}", "rule": rule, "group_id": group})


def test_each_role_gets_the_topics_it_can_read_and_settle() -> None:
    got = {role: concerns(viewer(role)) for role in ROLES}
    assert got["director"] == {PLANS, WEIGHINS, TESTS, RESULTS, GAINS, CONSENTS}
    assert got["strength_coach"] == {PLANS, WEIGHINS, TESTS, RESULTS, GAINS, BUILDS}
    assert got["performance_coach"] == {WEIGHINS, TESTS, RESULTS, GAINS, BUILDS}
    assert got["data_steward"] == {HELD, BUILDS, CONSENTS}


def test_nothing_to_do_says_so_topic_by_topic() -> None:
    text = page(Found(visit=VISIT, record=record((REVIEW, PLAN)))).nothing
    assert text == (
        "Nothing to do: no plan waits for a decision, everybody with an active plan was weighed within seven days, "
        "nobody has missed a test day, every withdrawal of consent fits an athlete, no row is held and the results are "
        "up to date."
    )
    steward = page(Found(visit=VISIT), viewer("data_steward"))
    assert steward.nothing == (
        "Nothing to do: every withdrawal of consent fits an athlete, no row is held and the results are up to date."
    )
    assert steward.settle == ()


def test_a_referral_stands_before_everything_and_then_the_worst_of_the_board() -> None:
    names = ("far", "fast", "refer")
    plans = [replace(PLAN, plan_id=name) for name in names]
    reviews = [
        replace(REVIEW, plan_id="far", status="target out of reach", needs_decision=True, reason=""),
        replace(SLOWED, plan_id="fast", reason="above the ceiling with a chance of 94 %"),
        replace(REVIEW, plan_id="refer", status="on plan", needs_decision=True),
    ]
    advice = [
        replace(
            ADVICE, plan_id="far", table_row="12", words="Target was too far", offered="Lower the target."
        ),
        replace(ADVICE, plan_id="fast"),
        replace(
            ADVICE, plan_id="refer", table_row="0", words="This is not a training question", offered="Refer."
        ),
    ]
    result = Found(visit=VISIT, record=record(*zip(reviews, plans, strict=True), advice=advice))
    view = page(result, viewer("strength_coach"))
    assert [(one.title, one.n, one.stop) for one in view.settle] == [
        ("This is not a training question", 1, True), ("Too fast", 1, False), ("Target was too far", 1, False),
    ]  # fmt: skip
    assert [one.why for one in view.settle] == [
        "Refer.", "Above the ceiling with a chance of 94 %. Slow the gain.", "Lower the target.",
    ]  # fmt: skip
    assert view.settle[1].links[0].query == (("plan", "fast"),)
    assert view.total == "3 plans to decide"
    assert "would still raise an alarm" in view.alarms


def test_a_performance_coach_gets_no_plan_to_decide() -> None:
    result = Found(visit=VISIT, record=record((SLOWED, PLAN), advice=[ADVICE]))
    assert page(result, viewer("performance_coach")).settle == ()
    assert page(result, viewer("director")).total == "1 plan to decide"


def test_a_plan_that_reads_otherwise_than_at_the_last_visit_is_marked_new() -> None:
    rows = record((SLOWED, PLAN), advice=[ADVICE])
    same = PlanConclusion(plan_id="P1", athlete_id="T1", stay_id="T1@K", status="too fast", table_row="2")

    def label(then: Conclusions | None) -> str:
        view = page(Found(visit=VISIT, record=rows, now=concluded(plans=(same,)), then=then))
        return view.settle[0].links[0].label

    assert label(concluded(plans=(same,))) == "Arlo Fernmoss"
    assert label(concluded(plans=(replace(same, status="on plan", table_row="5"),))) == "Arlo Fernmoss (new)"
    assert label(concluded()) == "Arlo Fernmoss (new)"
    assert label(None) == "Arlo Fernmoss"


def test_an_active_plan_is_late_from_the_seventh_day_on() -> None:
    def late(days: int, **other) -> list[str]:
        review = replace(REVIEW, as_of=TODAY - timedelta(days=days))
        view = page(Found(visit=VISIT, record=record((review, PLAN)), **other), viewer("strength_coach"))
        return [link.label for item in view.settle if item.topic == WEIGHINS for link in item.links]

    assert late(6) == []
    assert late(7) == ["Weigh in", "Arlo Fernmoss (7 days)"]
    assert late(7, typed=frozenset({"T1"})) == []
    assert late(7, typed=frozenset({"T3"})) != []


def test_a_plan_without_any_weigh_in_counts_from_its_start_and_ended_ones_not_at_all() -> None:
    def labels(plan, today: date = TODAY) -> list[str]:
        view = page(Found(visit=VISIT, record=record((replace(REVIEW, plan_id="other"), plan))), today=today)
        return [link.label for item in view.settle if item.topic == WEIGHINS for link in item.links]

    never = replace(PLAN, start_on=TODAY - timedelta(days=9))
    assert labels(never) == ["Weigh in", "Arlo Fernmoss (never since 9 days)"]
    assert labels(replace(never, ended_on=TODAY)) == []
    assert labels(replace(never, start_on=TODAY + timedelta(days=2))) == []


@pytest.mark.parametrize(("decision", "asked"), [("pause", False), ("refer", False), ("keep", True)])
def test_nobody_is_sent_to_the_scale_whose_plan_is_paused_or_referred(decision: str, asked: bool) -> None:
    review = replace(REVIEW, as_of=TODAY - timedelta(days=8))
    event = PlanEvent(
        event_id="e", at="2032-07-01T12:00:00", by="Fen", kind=DECIDED, plan_id="P1", athlete_id="T1",
        decision=decision, note="x", facts={"review_on": "2032-09-01"},
    )  # fmt: skip
    view = page(Found(visit=VISIT, record=record((review, PLAN), events=[event])), viewer("strength_coach"))
    assert any(item.topic == WEIGHINS for item in view.settle) == asked


def both_there() -> Lookup:
    base = lookup()
    return replace(base, stays={"T1@K": STAY, "T3@K": NEXT_DOOR})


def done_on(athlete: str, on: date) -> DoneOn:
    return DoneOn(athlete_id=athlete, stay_id=f"{athlete}@K", camp_id="K", held_on=on, n_measures=3)


CALENDAR = (
    CampDay(camp_id="K", on_date=date(2032, 6, 2)),
    CampDay(camp_id="K", on_date=date(2032, 7, 5)),
    CampDay(camp_id="K", on_date=date(2032, 8, 2)),
)


def test_by_the_calendar_those_are_overdue_who_missed_the_latest_test_day() -> None:
    done = [done_on("T1", date(2032, 7, 3)), done_on("T3", date(2032, 7, 2))]
    (one,) = build_calendar(CALENDAR, done, TODAY, both_there()).overdue
    assert (one.athlete_ids, one.due, one.n_there, one.from_calendar) == (("T3",), date(2032, 7, 5), 2, True)
    assert build_calendar(CALENDAR, [*done, done_on("T3", TODAY)], TODAY, both_there()).overdue == ()
    assert build_calendar(CALENDAR, done, TODAY, both_there()).ahead == (("Heath camp", date(2032, 8, 2)),)


def test_on_the_test_day_itself_nobody_is_overdue_and_it_is_said() -> None:
    done = [done_on("T1", date(2032, 6, 2)), done_on("T3", date(2032, 6, 2))]
    result = build_calendar(CALENDAR, done, date(2032, 7, 5), both_there())
    assert (result.overdue, result.today) == ((), ("Heath camp",))


def test_who_came_after_the_test_day_or_has_left_is_not_overdue() -> None:
    look = both_there()
    late = replace(look, stays={**look.stays, "T3@K": replace(NEXT_DOOR, arrived_on=date(2032, 7, 6))})
    gone = replace(look, stays={**look.stays, "T3@K": replace(NEXT_DOOR, left_on=date(2032, 7, 6))})
    for one in (late, gone):
        assert build_calendar(CALENDAR, [done_on("T1", date(2032, 7, 5))], TODAY, one).overdue == ()


def test_a_test_day_of_which_nothing_came_in_is_one_line_for_the_camp() -> None:
    view = page(Found(visit=VISIT, calendar=CALENDAR), viewer("director"), look=both_there())
    (item,) = view.settle
    assert (item.n, item.title) == (2, "Not tested since the test day of 5 Jul, Heath camp")
    assert "No result of anybody has come in" in item.why
    assert [link.query for link in item.links] == [(("camp", "K"),)]


def test_without_a_calendar_the_days_seen_count_and_it_is_said() -> None:
    look = both_there()
    observed = [
        done_on("T1", date(2032, 6, 2)),
        done_on("T3", date(2032, 6, 2)),
        done_on("T1", date(2032, 6, 30)),
    ]
    (one,) = build_calendar((), observed, TODAY, look).overdue
    assert (one.athlete_ids, one.due, one.from_calendar) == (("T3",), date(2032, 6, 30), False)
    third: Stay = replace(STAY, stay_id="T4@K", athlete_id="T4")
    few = replace(look, stays={**look.stays, "T4@K": third})
    assert [one.due for one in build_calendar((), observed, TODAY, few).overdue] == [date(2032, 6, 2)]
    view = page(Found(visit=VISIT, tested=tuple(observed)), viewer("director"), look=look)
    assert any("its camps file states no test days" in text for text in view.aside)


def test_held_rows_are_counted_by_reason_and_beside_the_last_visit() -> None:
    rows = (*(held("unit_slip", "g1", at) for at in range(3)), held("sentinel", "g2", 9))
    view = page(Found(visit=VISIT, held=rows, then=concluded(n_open=1)), viewer("data_steward"))
    (item,) = view.settle
    assert (item.n, item.title) == (4, "Held rows in 2 questions")
    assert "another unit (3)" in item.why
    assert "3 more than on 1 Jul" in item.why
    assert item.links[0].screen == "data"


def test_a_failed_build_gives_its_reason_to_the_steward_only() -> None:
    failed = FailedBuild(at=datetime(2032, 7, 8, 6, 30), reason="Arlo.csv, line 3: wrong")
    steward = Found(visit=VISIT, failed=(failed,), knows_why=True, behind=True)
    (item,) = page(steward, viewer("data_steward")).settle
    assert "8 Jul 2032 at 06:30: Arlo.csv, line 3: wrong" in item.why
    assert "Something waits for a build" in item.why
    (item,) = page(replace(steward, knows_why=False), viewer("strength_coach")).settle
    assert "Arlo.csv" not in item.why
    assert item.links[0].screen == "weighin"
    (item,) = page(Found(visit=VISIT, behind=True), viewer("data_steward")).settle
    assert item.title == "Build is due"


def test_every_line_leads_somewhere_that_its_viewer_may_open() -> None:
    review = replace(SLOWED, as_of=TODAY - timedelta(days=8))
    result = Found(
        visit=VISIT, record=record((review, PLAN), advice=[ADVICE]), calendar=CALENDAR,
        held=(held("sentinel", "g", 1),), failed=(FailedBuild(at=datetime(2032, 7, 8), reason="x"),),
    )  # fmt: skip
    for role, n in {"director": 3, "strength_coach": 4, "performance_coach": 3, "data_steward": 2}.items():
        who = viewer(role)
        view = page(result, who, look=both_there())
        assert len(view.settle) == n
        assert all(item.links for item in view.settle)
        assert {link.screen for item in view.settle for link in item.links} <= set(who.screens)


def test_what_was_decided_twice_is_named_once_and_long_lists_are_cut() -> None:
    plans = [replace(PLAN, plan_id=f"P{at}") for at in range(15)]
    reviews = [replace(SLOWED, plan_id=f"P{at}") for at in range(15)]
    advice = [replace(ADVICE, plan_id=f"P{at}") for at in range(15)]
    view = page(Found(visit=VISIT, record=record(*zip(reviews, plans, strict=True), advice=advice)))
    (item,) = view.settle
    assert (item.n, len(item.links), item.links[-1].label) == (15, 13, "and 3 more")
    assert item.links[-1].screen == "plans"


def test_a_first_visit_lists_the_tests_of_seven_days_and_compares_nothing() -> None:
    news = build_news(concluded(trend("clear gain", z=4.0)), None, date(2032, 7, 7), lookup())
    assert [(one.on, one.n_athletes, one.n_tests) for one in news.tests] == [(date(2032, 6, 30), 1, 1)]
    assert (news.first, news.alone, news.compared) == ((), (), False)
    assert build_news(concluded(trend()), None, TODAY, lookup()).tests == ()
    assert page(Found(visit=NO_VISIT)).since == "the last seven days"
    assert "No earlier visit" in page(Found(visit=NO_VISIT)).head


def test_a_gain_that_became_clear_says_how_much_and_why() -> None:
    then = concluded(trend(days=DAYS[:3]))
    news = build_news(concluded(trend("clear gain", z=4.0)), then, TODAY, lookup())
    (one,) = news.first
    assert (one.name, one.verdict) == ("Arlo Fernmoss", "Clear gain")
    assert (
        one.text.replace("\u00a0", " ") == "Exit speed (tee, metal bat): +4.7 km/h (+1.8 to +7.6), 4 sessions"
    )
    assert one.why == "new data (30 Jun)"
    assert news.head == "1 gain became clear."
    assert [(result.on, result.n_tests) for result in news.tests] == [(date(2032, 6, 30), 1)]
    assert "of this 1 change would look clear" in news.by_chance
    assert "the one clear change is sure" in news.together


def test_what_was_clear_already_is_no_news() -> None:
    same = trend("clear gain", z=4.0)
    news = build_news(concluded(same), concluded(same), TODAY, lookup())
    assert (news.first, news.alone, news.tests) == ((), (), ())
    assert news.head == "No change became clear, and none that was clear is no longer."
    assert news.by_chance == ""


def test_no_longer_clear_and_turned_round_are_news_too() -> None:
    clear = trend("clear gain", z=4.0)
    back = build_news(concluded(trend(values=[34, 35, 33, 34])), concluded(clear), TODAY, lookup())
    assert [one.verdict for one in back.first] == ["No longer clear"]
    assert back.head == "1 no longer clear."
    turned = build_news(concluded(trend("clear loss", z=-4.0)), concluded(clear), TODAY, lookup())
    assert turned.head == "1 loss became clear."
    gone = build_news(concluded(), concluded(clear), TODAY, lookup())
    assert [one.why for one in gone.first] == [GONE]


def test_what_is_clear_alone_does_not_stand_before_what_stands_among_all() -> None:
    strong = trend("clear gain", z=5.0)
    weak = trend("clear loss", z=-2.7, athlete_id="T3", stay_id="T3@K")
    others = [trend(stay_id=f"x{at}", z=0.1) for at in range(60)]
    news = build_news(concluded(weak, strong, *others), concluded(), TODAY, lookup())
    assert [one.athlete_id for one in news.first] == ["T1"]
    assert [one.athlete_id for one in news.alone] == ["T3"]
    assert news.fold == "Clear alone, but not when all are taken together: 1, 1 of them for the worse"
    assert "1 of 2 clear changes are sure" in news.together
    assert news.head == "1 gain and 1 loss became clear."


def test_one_reason_for_all_is_said_once() -> None:
    now = concluded(trend("clear gain", z=5.0), trend("clear gain", z=5.0, athlete_id="T3", stay_id="T3@K"))
    then = concluded(trend(days=DAYS[:3]), trend(days=DAYS[:3], athlete_id="T3", stay_id="T3@K"))
    news = build_news(now, then, TODAY, lookup())
    assert news.why_all == "Why, for all of them: new data (30 Jun)."
    assert {one.why for one in news.first} == {""}


OLD = trend(days=DAYS[:3])
TOUCHED = trend(days=DAYS[:3], values=[34.0, 36.0, 34.2])


@pytest.mark.parametrize(
    ("after", "code", "data", "said"),
    [
        (trend(), True, False, f"{NEW_DATA} (30 Jun)"),
        (trend(), False, False, f"{NEW_DATA} (30 Jun) and {NEW_CODE}"),
        (TOUCHED, True, False, f"{CORRECTED} (9 Jun)"),
        (TOUCHED, False, True, f"{NEW_CODE} (9 Jun)"),
        (TOUCHED, False, False, f"{CANNOT_TELL} (9 Jun)"),
        (trend(days=DAYS[:2]), True, False, f"{CORRECTED} (16 Jun)"),
        (trend(days=(*DAYS[:1], date(2032, 6, 4), *DAYS[1:3]), values=[34.0, 34, 34.1, 34.2]), True, False,
         f"{CORRECTED} (4 Jun)"),
        (OLD, False, True, NEW_CODE),
        (OLD, True, False, OTHERS),
    ],
)  # fmt: skip
def test_why_tells_new_data_corrected_data_new_code_and_others_apart(after, code, data, said) -> None:
    assert why(OLD, after, same_code=code, same_data=data) == said


def test_a_conclusion_kept_no_longer_is_said_and_a_broken_record_too() -> None:
    visit = Visit(
        before=VisitDay(on=LAST, build_id="a" * 16),
        trouble="the record of your last visit cannot be read (x)",
    )
    view = page(Found(visit=visit, troubles=(visit.trouble,)))
    assert view.since == "the last seven days (what stood here on 1 Jul is no longer kept)"
    assert "The record of your last visit cannot be read (x)." in view.aside


def test_the_rows_used_here_are_those_of_one_camp() -> None:
    assert (STAY.camp_id, NEXT_DOOR.athlete_id, CAMP.label) == ("K", CLEO.athlete_id, "Heath camp")
    assert ARLO.athlete_id == STAY.athlete_id
