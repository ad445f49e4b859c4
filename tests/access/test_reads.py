"""The data layer as each role: what is not the role's is refused where it is fetched, and caches leak nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from datetime import date
from importlib import import_module
from pathlib import Path
from typing import Any

import duckdb
import pytest

from latewood.dashboard.actions import look_actions, plan_actions, steward_actions, summary_actions
from latewood.dashboard.reads import guard, plan_reads, warehouse
from latewood.dashboard.reads.read import Read, statement
from latewood.dashboard.reads.rows import Build, Stay
from latewood.pipeline.access import AT_THE_MACHINE, Viewer
from latewood.pipeline.errors import ForbiddenError
from latewood.pipeline.ingest.consent.agreed import Consent
from latewood.pipeline.ingest.logs import entered
from latewood.pipeline.ingest.plans.plan_forms import PlanDraft
from latewood.pipeline.ingest.program import data_dir
from latewood.pipeline.pages.handout import Handout
from latewood.pipeline.pages.recruit.make import Choice
from latewood.pipeline.stats.peers.results import PeerNeighbour
from latewood.pipeline.warehouse.schema import schema_statements
from tests.two_camps import viewer_of

SQL = Path(warehouse.__file__).with_name("sql")
TEE = "delivery=tee; bat=metal"
ASKED: dict[str, Callable[[Build], object]] = {
    "gains": warehouse.cohort_gains,
    "behind": lambda build: warehouse.camp_trends(build, "K", "exit_speed", TEE),
    "values": lambda build: warehouse.camp_values(build, "K", "exit_speed", TEE),
    "tally": lambda build: warehouse.camp_tally(build, "K"),
    "record": lambda build: warehouse.athlete_record(build, "T1"),
    "mass": lambda build: warehouse.athlete_mass(build, "T1"),
    "standing": lambda build: warehouse.athlete_standings(build, "T1"),
    "projections": lambda build: warehouse.athlete_projections(build, "T1"),
    "account": lambda build: warehouse.athlete_account(build, "T1"),
    "observations": lambda build: warehouse.athlete_observations(build, "T1"),
    "movement": lambda build: warehouse.athlete_movement(build, "T1"),
    "strength": lambda build: warehouse.athlete_relative_strength(build, "T1"),
    "verdicts": lambda build: warehouse.camp_verdicts(build, "K"),
    "guards": plan_reads.guards,
    "states": plan_reads.states,
    "stages": plan_reads.stages,
    "plan log": plan_actions.plan_log,
    "typed": lambda build: plan_actions.entries(build, date(2033, 7, 1)),
    "sheet": lambda build: summary_actions.desk(build, "T1"),
    "board": plan_reads.record,
    "held": warehouse.held_rows,
    "imports": warehouse.imports,
    "decisions": warehouse.decisions,
}
COHORT = {"gains", "behind", "values", "verdicts"}
PLAN = {"board", "guards", "states", "stages", "plan log"}
SEEN = {"observations", "movement"}
ATHLETE = {"tally", "record", "mass", "standing", "projections", "account", "strength"}
MAY = {
    "director": COHORT | ATHLETE | PLAN | {"sheet"},
    "strength_coach": ATHLETE | PLAN | SEEN | {"typed"},
    "performance_coach": COHORT | ATHLETE | PLAN | SEEN | {"typed"},
    "data_steward": {"held", "imports", "decisions"},
}


def works(read: Callable[[Build], object], build: Build) -> bool:
    try:
        read(build)
    except ForbiddenError:
        return False
    return True


@pytest.mark.parametrize("role", MAY)
def test_each_role_reads_what_is_its_own_and_nothing_else(role, data_folder) -> None:
    build = warehouse.published(viewer_of(role))
    assert {name for name, read in ASKED.items() if works(read, build)} == MAY[role]


def test_a_refusal_says_whose_it_is(data_folder) -> None:
    build = warehouse.published(viewer_of("director"))
    with pytest.raises(
        ForbiddenError, match="for the strength coach or performance coach; your role is director"
    ):
        warehouse.athlete_observations(build, "T1")


def declared() -> dict[str, Read[Any]]:
    """Every read of dashboard/reads, by module and name."""
    return {
        f"{module.stem}.{name}": one
        for module in Path(warehouse.__file__).parent.glob("*.py")
        for name, one in vars(import_module(f"latewood.dashboard.reads.{module.stem}")).items()
        if isinstance(one, Read) and (module.stem, name) != ("warehouse", "stays")  # as in `read`
    }


def test_every_file_of_sql_is_one_read_and_none_is_read_otherwise() -> None:
    queries = sorted(one.query for one in declared().values() if one.query)
    assert queries == sorted(path.stem for path in SQL.glob("*.sql"))


@pytest.fixture(scope="module")
def no_rows() -> Iterator[duckdb.DuckDBPyConnection]:
    """A warehouse with its tables and without a row."""
    with duckdb.connect() as connection:
        for text in schema_statements():
            connection.execute(text)
        yield connection


@pytest.mark.parametrize("name", declared())
def test_a_read_gives_the_fields_of_its_class_and_nothing_else(name, no_rows) -> None:
    read = declared()[name]
    dates = {"today": "2033-07-01"}
    cursor = no_rows.execute(statement(read), {key: dates.get(key, "x") for key in read.by})
    columns = [column[0] for column in cursor.description]
    assert sorted(columns) == sorted(field.name for field in fields(read.row))


def test_a_kind_that_no_role_can_hold_is_refused_when_a_read_is_declared() -> None:
    with pytest.raises(ValueError, match="no kind of data is 'something new'; use program, roster"):
        Read(row=Stay, kind="something new")


def test_nobody_without_a_role_opens_the_build(data_folder) -> None:
    with pytest.raises(ForbiddenError):
        warehouse.published(Viewer(name="No", email="no@example.org", grants=()))


def test_a_coach_of_one_camp_sees_that_camp_only(data_folder) -> None:
    build = warehouse.published(viewer_of("performance_coach", camps={"L"}))
    assert {one.athlete_id for one in warehouse.athletes(build)} == {"T2", "T3"}
    assert {one.camp_id for one in warehouse.camps(build)} == {"L"}
    assert {one.stay_id for one in warehouse.stays(build)} == {"T2@L", "T3@L"}
    assert {one.camp_id for one in warehouse.cohort_gains(build)} == {"L"}
    assert {one.plan_id for one in warehouse.plans(build)} == {"P2"}
    assert {one.athlete_id for one in warehouse.plan_mass(build)} == {"T2"}
    assert {link.scope for link in warehouse.mass_links(build)} <= {"program", "L"}


def test_of_an_athlete_at_two_camps_only_the_stay_at_ones_own_is_seen(data_folder) -> None:
    one_camp, all_camps = (
        warehouse.published(viewer_of("performance_coach", camps=camps)) for camps in ({"L"}, None)
    )
    assert {row.camp_id for row in warehouse.athlete_values(all_camps, "T3")} == {"K", "L"}
    assert {row.camp_id for row in warehouse.athlete_values(one_camp, "T3")} == {"L"}
    assert {row.stay_id for row in warehouse.athlete_mass(one_camp, "T3")} == {"T3@L"}
    assert [row.observed_on.month for row in warehouse.athlete_observations(all_camps, "T3")] == [9, 6]
    assert [row.observed_on.month for row in warehouse.athlete_observations(one_camp, "T3")] == [9]


@pytest.mark.parametrize(
    "name", ["record", "mass", "standing", "projections", "account", "observations", "behind", "tally"]
)
def test_an_athlete_or_camp_outside_ones_own_is_refused(name, data_folder) -> None:
    build = warehouse.published(viewer_of("performance_coach", camps={"L"}))
    with pytest.raises(ForbiddenError, match="not among those your role covers"):
        ASKED[name](build)


def test_an_athlete_who_does_not_exist_is_refused_in_the_same_words(data_folder) -> None:
    build = warehouse.published(viewer_of("performance_coach", camps={"L"}))
    text = []
    for athlete in ("T1", "nobody", "T2' or '1'='1", "%"):
        with pytest.raises(ForbiddenError) as refusal:
            warehouse.athlete_values(build, athlete)
        text.append(str(refusal.value))
    assert len(set(text)) == 1


def test_a_cache_filled_by_one_person_gives_another_nothing_more(data_folder) -> None:
    wide = warehouse.published(viewer_of("director"))
    assert {one.athlete_id for one in warehouse.athletes(wide)} == {"T1", "T2", "T3"}
    assert warehouse.athlete_values(wide, "T3")
    narrow = warehouse.published(viewer_of("director", camps={"K"}))
    assert {one.athlete_id for one in warehouse.athletes(narrow)} == {"T1", "T3"}
    assert {row.camp_id for row in warehouse.athlete_values(narrow, "T3")} == {"K"}
    steward = warehouse.published(viewer_of("data_steward"))
    with pytest.raises(ForbiddenError):
        warehouse.athlete_values(steward, "T3")
    assert {row.camp_id for row in warehouse.athlete_values(wide, "T3")} == {"K", "L"}


def test_two_roles_add_up_each_with_its_own_camps(data_folder) -> None:
    both = Viewer(
        name="Sage",
        email="sage@example.org",
        grants=(*viewer_of("director", camps={"K"}).grants, *viewer_of("strength_coach", camps={"L"}).grants),
    )
    build = warehouse.published(both)
    assert {one.camp_id for one in warehouse.camps(build)} == {"K", "L"}
    assert {gain.camp_id for gain in warehouse.cohort_gains(build)} == {"K"}
    assert warehouse.athlete_observations(build, "T2")
    with pytest.raises(ForbiddenError):
        warehouse.athlete_observations(build, "T1")


def test_peers_of_other_camps_have_no_id(data_folder) -> None:
    near = PeerNeighbour(
        athlete_id="T2", measure="exit_speed", line=TEE, peer_id="T3", weight=0.5, value=34.0, age_years=16.0,
        height_cm=178.0, mass_kg=72.0,
    )  # fmt: skip
    circle = guard.circle_of(frozenset({"L"}), warehouse.stays(warehouse.published(viewer_of("director"))))
    result = guard.within((near, replace(near, peer_id="T1")), circle, "T2")
    assert [one.peer_id for one in result] == ["T3", ""]


SIGNED = steward_actions.SignedReason(who="me", why="why")
ACTIONS: dict[str, Callable[[Viewer], object]] = {
    "import": lambda viewer: steward_actions.take_files(viewer, [("a.csv", b"x")], "me"),
    "answer": lambda viewer: steward_actions.answer(viewer, ["x"], "reject", None, SIGNED),
    "correct": lambda viewer: steward_actions.correct(viewer, "x", "1", SIGNED),
    "withdraw": lambda viewer: steward_actions.take_out(viewer, "x", "me", "why"),
    "log": steward_actions.log,
    "look": lambda viewer: look_actions.look(viewer, [("a.csv", b"x")], {}),
    "take what was looked at": lambda viewer: look_actions.take(viewer, [], "me"),
}
REBUILDS: dict[str, Callable[[Viewer], object]] = {
    "rebuild": lambda viewer: steward_actions.rebuild(viewer, print),
    "behind": lambda viewer: steward_actions.is_behind(viewer, None),
}
ON = date(2032, 10, 20)
DRAFT = PlanDraft(
    plan_id="P2", athlete_id="T2", start_on=ON, start_kg=72.0, target_on=date(2032, 12, 30), target_kg=72.5,
    purpose="", guardian="Ilse Fenwood", clinician="Bo Marl", reason="asked for by the athlete",
)  # fmt: skip
CONSENT = Consent(
    athlete_id="T2", given_by="guardian", given_on=ON, expires_on=date(2033, 1, 1), fields=(), measures=("all",),
    projection=False, photo=False, reference="binder",
)  # fmt: skip
CHOICE = Choice(units="us")
KEPT = plan_actions.PlanDecision(
    decision="keep", review_on=date(2032, 11, 1), note="steady", attendance_poor=False
)
COACHES = frozenset({"strength_coach", "performance_coach"})
STRENGTH, DIRECTOR = frozenset({"strength_coach"}), frozenset({"director"})


def decide_on_plan(build: Build) -> None:
    (review,) = (
        one for one in warehouse.plan_reviews(warehouse.published(AT_THE_MACHINE)) if one.plan_id == "P2"
    )
    plan_actions.decide(build, review, KEPT, "me")


def take_back_entry(build: Build) -> None:
    """Take back what the fixture has typed, read without asking anybody."""
    (entry,) = entered.current_entries(data_dir(), ON)
    plan_actions.take_back(build, entry, "me")


HOW = {"delivery": "tee", "bat": "metal", "ball": "baseball", "device": "radar"}
TYPED = entered.TypedEntry(
    entry_id="", at="", by="me", athlete_id="T2", measure="exit_speed", measured_on=ON.isoformat(), value="80",
    unit="mph", conditions=HOW,
)  # fmt: skip
# Action, the roles that alone do it, and whether it leaves a name behind.
OWN_ACTIONS: dict[str, tuple[frozenset[str], bool, Callable[[Build], object]]] = {
    "set plan": (STRENGTH, True, lambda build: plan_actions.save_plan(build, DRAFT, "me")),
    "decide": (STRENGTH, True, decide_on_plan),
    "hide": (STRENGTH, True, lambda build: plan_actions.hide_mass(build, "T2", "me", hidden=True)),
    "enter": (
        COACHES, True,
        lambda build: plan_actions.enter(build, TYPED),
    ),
    "take back": (COACHES, True, take_back_entry),
    "look": (DIRECTOR, False, lambda build: summary_actions.desk(build, "T2")),
    "preview": (DIRECTOR, False, lambda build: summary_actions.pictures(build, "T2", CHOICE, "letter")),
    "export": (
        DIRECTOR, True, lambda build: summary_actions.export(build, ["T2"], "me", CHOICE, Handout(forms=["json"])),
    ),
    "consent": (DIRECTOR, True, lambda build: summary_actions.give_consent(build, CONSENT, "me")),
    "withdraw consent": (DIRECTOR, True, lambda build: summary_actions.withdraw_consent(build, "T2", "me")),
}  # fmt: skip


@pytest.mark.parametrize("role", ["director", "strength_coach", "performance_coach"])
@pytest.mark.parametrize("action", ACTIONS)
def test_only_the_steward_does_the_stewards_deeds(role, action, data_folder) -> None:
    before = sorted(path.name for path in data_folder.rglob("*"))
    with pytest.raises(ForbiddenError, match="for the data steward"):
        ACTIONS[action](viewer_of(role))
    assert sorted(path.name for path in data_folder.rglob("*")) == before


@pytest.mark.parametrize("action", REBUILDS)
def test_a_director_does_not_rebuild(action, data_folder) -> None:
    with pytest.raises(ForbiddenError, match="your role is director"):
        REBUILDS[action](viewer_of("director"))


@pytest.mark.parametrize("role", MAY)
@pytest.mark.parametrize("action", OWN_ACTIONS)
def test_plans_entries_consent_and_exports_are_done_by_their_roles_only(role, action, own_camps) -> None:
    able, leaves_name, act = OWN_ACTIONS[action]
    build = warehouse.published(viewer_of(role))
    before = written(own_camps)
    if role not in able:
        with pytest.raises(ForbiddenError, match="your role is"):
            act(build)
        assert written(own_camps) == before
        return
    act(build)
    added = b"".join(text[len(before.get(name, b"")) :] for name, text in written(own_camps).items())
    assert (b"Sage Fenwick <sage@example.org>" in added) == leaves_name
    assert b'"me"' not in added


@pytest.mark.parametrize("action", OWN_ACTIONS)
def test_no_deed_reaches_an_athlete_of_another_camp(action, own_camps) -> None:
    able, _, act = OWN_ACTIONS[action]
    build = warehouse.published(viewer_of(*able, camps={"K"}))
    before = written(own_camps)
    with pytest.raises(ForbiddenError, match="not among those your role covers"):
        act(build)
    assert written(own_camps) == before


def test_a_typed_value_and_the_plan_log_are_seen_in_ones_own_camps_only(own_camps) -> None:
    coach = warehouse.published(viewer_of("strength_coach"))
    plan_actions.enter(coach, TYPED)
    plan_actions.hide_mass(coach, "T2", "me", hidden=True)
    assert [one.value for one in plan_actions.entries(coach, ON)] == ["72.4", "80"]
    assert [one.athlete_id for one in plan_actions.plan_log(coach)] == ["T2"]
    other = warehouse.published(viewer_of("strength_coach", camps={"K"}))
    assert (plan_actions.entries(other, ON), plan_actions.plan_log(other)) == ((), ())


def written(folder: Path) -> dict[str, bytes]:
    """Every file that people's actions may write, without locks and the warehouse."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and "lock" not in path.name and "warehouse" not in path.parts
    }


def test_whoever_is_signed_in_signs_with_that_name(data_folder) -> None:
    assert viewer_of("data_steward").signs("Somebody Else") == "Sage Fenwick <sage@example.org>"
    assert AT_THE_MACHINE.signs(" Sage ") == "Sage"


@pytest.mark.parametrize("right", ["consent", "export", "erase", "audit"])
def test_consent_exports_and_the_log_are_the_directors(right) -> None:
    assert viewer_of("director", camps={"K"}).camps_for(right) == {"K"}
    for role in ("strength_coach", "performance_coach", "data_steward"):
        with pytest.raises(ForbiddenError, match="for the director"):
            viewer_of(role).camps_for(right)
