"""A build that refits only what changed gives what a fresh one gives, whatever was done before."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from latewood.pipeline.errors import DecisionError
from latewood.pipeline.ingest.actions import land_files
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.build.settle import record_decision
from latewood.pipeline.ingest.inputs import read_inputs
from latewood.pipeline.ingest.logs.decisions import Answer
from latewood.pipeline.ingest.program import load_program, prepare_folder
from latewood.pipeline.stats.change.trend import trends
from latewood.pipeline.warehouse import separate
from latewood.pipeline.warehouse.connection import open_published
from tests.typed import type_in

ATHLETES = [f"A{i}" for i in range(9)]
OPENS = date(2032, 6, 1)
SPEEDS = ("exit_speed", "throw_speed")
Act = tuple[str, int, int]
ACTS = st.tuples(
    st.sampled_from(("speeds", "weighins", "withdraw", "restore", "decide", "enter")),
    st.integers(0, 8),
    st.integers(0, 5),
)


def make_camp(root: Path) -> None:
    inbox = root.parent / "inbox"
    inbox.mkdir(exist_ok=True)
    prepare_folder(root)
    (root / "program.toml").write_text(
        'name = "Fen"\ninvented = true\nclock = "2032-08-20"\n', encoding="utf-8"
    )
    people = pd.DataFrame({"athlete_id": ATHLETES, "name": [f"Reed {a}" for a in ATHLETES], "birth_date": "2015-03-01",
                           "sex": "male", "sport": "baseball", "graduation_year": 2033, "positions": "OF",
                           "bats": "R", "throws": "R"})  # fmt: skip
    people.to_csv(inbox / "roster.csv", index=False)
    camps = pd.DataFrame([{"camp_id": "K", "label": "Heath", "starts_on": OPENS, "ends_on": "2032-08-15"}])
    camps.to_csv(inbox / "camps.csv", index=False)
    stays = pd.DataFrame({"athlete": ATHLETES, "camp": "K", "arrived_on": OPENS, "left_on": ""})
    stays.to_csv(inbox / "stays.csv", index=False)
    land_files(root, [inbox], "tester")
    for day in range(3):
        take_values(root, SPEEDS[0], 0, day)
    take_values(root, "body_mass", 0, 0)
    take_values(root, "body_mass", 0, 1)


def take_values(root: Path, measure: str, which: int, day: int) -> None:
    """Import one test day of one measure; every tenth value is one that the row rules hold."""
    level, unit = (72.0, "kg") if measure == "body_mass" else (76.0, "mph")
    held = OPENS + timedelta(days=1 + 7 * day)
    rows = [
        f"{athlete},{held},{measure},{_value(level, k, which) + day:.1f},{unit},{n}"
        for k, athlete in enumerate(ATHLETES)
        for n in ((1,) if measure == "body_mass" else (1, 2))
    ]
    path = root.parent / f"{measure}_{which}_{day}.csv"
    path.write_text("\n".join(["athlete,measured_on,measure,value,unit,trial", *rows, ""]), encoding="utf-8")
    land_files(root, [path], "tester")


def _value(level: float, athlete: int, which: int) -> float:
    slipped = 10.0 if (athlete + which) % 10 == 9 else 1.0
    return level * slipped + 0.3 * ((athlete * 7 + which) % 5)


def withdraw_or_restore(root: Path, action: str, which: int) -> None:
    imports = [m for m in read_inputs(root).imports if m.kind == "readings"]
    target = imports[which % len(imports)].import_id
    record_decision(root, Answer(action=action, who="tester", why="tried"), {target: {}}, load_program(root))


def answer_held(root: Path, which: int, accepts: bool) -> None:
    with open_published(root) as connection:
        held = connection.execute("select held_id from held_row where state = 'open' order by 1").fetchall()
    if held:
        target = held[which % len(held)][0]
        action = "accept" if accepts else "reject"
        try:
            record_decision(
                root, Answer(action=action, who="tester", why="seen"), {target: {}}, load_program(root)
            )
        except DecisionError as error:
            assert "nothing changes" in str(error)  # the row is answered so already


def do(root: Path, act: Act) -> None:
    kind, which, day = act
    steps: dict[str, Callable[[], object]] = {
        "speeds": lambda: take_values(root, SPEEDS[which % 2], which, day),
        "weighins": lambda: take_values(root, "body_mass", which, day),
        "withdraw": lambda: withdraw_or_restore(root, "withdraw", which),
        "restore": lambda: withdraw_or_restore(root, "restore", which),
        "decide": lambda: answer_held(root, which, accepts=day % 2 == 0),
        "enter": lambda: type_in(root, by="tester", athlete_id=ATHLETES[which], measure="body_mass",
                               measured_on=OPENS + timedelta(days=5 + day), value="73.1", unit="kg"),
    }  # fmt: skip
    steps[kind]()


def tables(root: Path) -> dict[str, pd.DataFrame]:
    with open_published(root) as connection:
        names = [r[0] for r in connection.execute("select table_name from duckdb_tables()").fetchall()]
        return {n: connection.execute(f"select * from {n}").df() for n in names if n != "build_log"}


def assert_equal_to_fresh(root: Path) -> None:
    apart = root.parent / "apart"
    shutil.rmtree(apart, ignore_errors=True)
    shutil.copytree(root, apart, ignore=shutil.ignore_patterns("warehouse"))
    build(apart, fresh=True)
    kept, fresh = tables(root), tables(apart)
    assert kept.keys() == fresh.keys()
    for name, frame in kept.items():
        pd.testing.assert_frame_equal(frame, fresh[name], check_exact=True, obj=name)


@pytest.mark.slow
@settings(
    max_examples=5,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
    derandomize=True,
)
@given(acts=st.lists(ACTS, min_size=2, max_size=4))
def test_a_build_that_refits_what_changed_equals_a_fresh_one(tmp_path: Path, acts: list[Act]) -> None:
    root = Path(tempfile.mkdtemp(dir=tmp_path)) / "data"
    make_camp(root)
    build(root)
    for act in acts:
        do(root, act)
        build(root)
    assert_equal_to_fresh(root)


@pytest.mark.slow
def test_a_weighin_leaves_everything_but_body_mass_as_it_was_fitted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    root = tmp_path / "data"
    make_camp(root)
    build(root)
    fitted: list[set[str]] = []
    monkeypatch.setattr(
        separate, "trends", lambda part, *rest: fitted.append(set(part["measure"])) or trends(part, *rest)
    )
    take_values(root, "body_mass", 3, 2)
    build(root)
    assert fitted == [{"body_mass"}]
    take_values(root, SPEEDS[0], 3, 4)
    build(root)
    assert fitted == [{"body_mass"}, {SPEEDS[0]}]
    build(root, fresh=True)
    assert fitted[2:] == [{"body_mass"}, {SPEEDS[0]}]
