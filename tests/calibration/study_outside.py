"""Files in, published warehouse out: a camp is imported week by week and every build is judged by the truth."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

import numpy as np
import pandas as pd

from latewood.pipeline.ingest.actions import import_files
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.program import prepare_folder
from latewood.pipeline.stats.plans.rules import OFF_PLAN
from latewood.pipeline.warehouse.connection import open_published
from tests.calibration.outcome import Claim, Estimate, Study, mean_of, share_of
from tests.calibration.outside_files import DAYS, NOISE, PAST, START, TOTAL_PER_KG, Handed, hand_in
from tests.calibration.varied import seeded
from tests.camps import MPH

WEEKLY_SEED, FINAL_SEED = 7171, 7172
UNITS = {"exit_speed": MPH, "throw_speed": MPH, "sprint_60yd": 1.0, "trap_bar_deadlift": 1.0}
JUDGED = ("exit_speed", "throw_speed", "sprint_60yd")
WEEKS = tuple(range(6, DAYS + 1, 7))  # Sundays
PROJECTED_FROM = (48, 62)  # days, of builds whose projections are judged
MEDIAN_EFFICIENCY = np.pi / 2


@dataclass(frozen=True, slots=True)
class Folder:
    """A data folder, and the tables of its published build."""

    root: Path

    def read(self, table: str) -> pd.DataFrame:
        with open_published(self.root) as connection:
            return connection.execute(f"select * from {table}").df()


def take(folder: Folder, handed: Handed, first: int, last: int) -> None:
    """Hand in the files of some days and build as of the last of them."""
    prepare_folder(folder.root)
    clock = handed.truth.begins + timedelta(days=last)
    program = f'name = "Outside"\ninvented = true\nclock = "{clock}"\n'
    (folder.root / "program.toml").write_text(program, encoding="utf-8")
    files = handed.write(folder.root.parent / "inbox", first, last)
    import_files(folder.root, files, "outside")


def changes(folder: Folder, handed: Handed, camp: int) -> pd.DataFrame:
    """Own changes of every athlete beside the planted ones, in display units."""
    table = folder.read("trend").query("measure in @JUDGED and change.notna() and camp_id == 'Z'")
    rows = []
    for r in table.itertuples():
        last = pd.Timestamp(r.last_on).date()
        first = last - timedelta(days=round(7 * r.weeks))
        unit = UNITS[r.measure]
        true = handed.truth.at(r.measure, r.athlete_id, last) - handed.truth.at(
            r.measure, r.athlete_id, first
        )
        held = r.low / unit <= true <= r.high / unit
        rows.append((camp, r.measure, held, r.change / unit - true, (r.high - r.low) / unit, r.verdict))
    return pd.DataFrame(rows, columns=["camp", "measure", "held", "error", "width", "verdict"])


def projections(rng: np.random.Generator, folder: Folder, handed: Handed, camp: int) -> pd.DataFrame:
    """Projections to a date beside a new session drawn on that date."""
    table = folder.read("projection").query("kind == 'date' and verdict == 'shown' and measure in @JUDGED")
    table = table[table["athlete_id"].str.startswith("Z")]
    rows = []
    for r in table.itertuples():
        on = pd.Timestamp(r.target_on).date()
        if (on - START).days > DAYS:
            continue
        session, trial, trials = NOISE[r.measure]
        spread = trial**2 / trials * (1.0 if r.measure == "sprint_60yd" else MEDIAN_EFFICIENCY)
        new = handed.truth.at(r.measure, r.athlete_id, on) + rng.normal(0, np.sqrt(session**2 + spread))
        unit = UNITS[r.measure]
        rows.append((camp, r.measure, r.low / unit <= new <= r.high / unit, r.value / unit - new))
    return pd.DataFrame(rows, columns=["camp", "measure", "held", "error"])


def links(folder: Folder, handed: Handed, camp: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The program's total effect per kg, if given, and each athlete's expected change, beside the planted ones."""
    unit = UNITS["exit_speed"]
    chosen = "measure == 'exit_speed' and scope == 'program' and adjustment == 'time'"
    total = folder.read("mass_link").query(chosen)
    one = [
        (
            camp,
            pd.isna(r.per_kg),
            r.low / unit <= TOTAL_PER_KG <= r.high / unit,
            r.per_kg / unit - TOTAL_PER_KG,
        )
        for r in total.itertuples()
    ]
    people = folder.read("athlete_link").query("measure == 'exit_speed' and expected.notna()")
    spans = folder.read("trend").query("measure == 'exit_speed'").set_index("athlete_id")
    each = []
    for r in people.itertuples():
        span = spans.loc[r.athlete_id]
        last = (pd.Timestamp(span["last_on"]).date() - START).days
        first = last - round(7 * span["weeks"])
        mass = handed.truth.mass[handed.truth.athletes.index(r.athlete_id)]
        true = TOTAL_PER_KG * (mass[last] - mass[first])
        each.append((camp, r.expected_low / unit <= true <= r.expected_high / unit))
    columns = ["camp", "refused", "held", "error"]
    return pd.DataFrame(one, columns=columns), pd.DataFrame(each, columns=["camp", "held"])


def followed(k: int, n: int = 40, weeks: Sequence[int] = WEEKS) -> dict[str, pd.DataFrame]:
    """A camp of the year before handed in whole, then one handed in week by week."""
    rng = seeded(WEEKLY_SEED, 0, k)
    past = hand_in(rng, n, "Y", PAST)
    handed = hand_in(rng, n)
    plan = dict(zip(handed.truth.athletes, handed.truth.plan, strict=True))
    clear, alarms, ahead = set(), set(), []
    with tempfile.TemporaryDirectory() as place:
        folder = Folder(Path(place) / "data")
        take(folder, past, 0, DAYS)
        before = -1
        for day in weeks:
            take(folder, handed, before + 1, day)
            before = day
            trend = folder.read("trend").query("measure == 'throw_speed' and camp_id == 'Z'")
            clear |= set(trend.loc[trend["verdict"].str.startswith("clear"), "athlete_id"])
            review = folder.read("plan_review")
            alarms |= set(review.loc[review["status"].isin(OFF_PLAN), "athlete_id"])
            if day in PROJECTED_FROM:
                ahead.append(projections(rng, folder, handed, k))
        moved = changes(folder, handed, k)
    observed = pd.DataFrame({"athlete": list(plan), "plan": list(plan.values()), "camp": k})
    observed["clear"] = observed["athlete"].isin(clear)
    observed["alarm"] = observed["athlete"].isin(alarms)
    return {"seen": observed, "changes": moved, "ahead": pd.concat(ahead) if ahead else pd.DataFrame()}


def linked(k: int, n: int = 60) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
    """One camp handed in at its end."""
    handed = hand_in(seeded(FINAL_SEED, 0, k), n)
    with tempfile.TemporaryDirectory() as place:
        folder = Folder(Path(place) / "data")
        take(folder, handed, 0, DAYS)
        total, each = links(folder, handed, k)
        return total, each, changes(folder, handed, k)


def content(root: Path) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table but the build log."""
    with open_published(root) as connection:
        query = "select table_name from duckdb_tables() where not temporary and table_name <> 'build_log'"
        names = sorted(t[0] for t in connection.execute(query).fetchall())
        return {t: connection.execute(f"select * from {t} order by all").fetchall() for t in names}


def built_twice(k: int, n: int) -> bool:
    """Whether a second build from nothing gives every table again to the last bit."""
    handed = hand_in(seeded(FINAL_SEED, 1, k), n)
    with tempfile.TemporaryDirectory() as place:
        folder = Folder(Path(place) / "data")
        take(folder, handed, 0, DAYS)
        before = content(folder.root)
        build(folder.root, fresh=True)
        return before == content(folder.root)


def _coverage(key: str, text: str, found: Estimate, low: float, high: float) -> Claim:
    return Claim(key=key, text=text, found=found, low=low, high=high)


def run_outside(size: float) -> Study:
    """Six camps followed week by week and forty seen at their end (at full size)."""
    weekly, final = max(2, round(6 * size)), max(4, round(40 * size))
    camps = [followed(k) for k in range(weekly)]
    ends = [linked(k) for k in range(final)]
    observed = pd.concat(c["seen"] for c in camps)
    ahead = pd.concat(c["ahead"] for c in camps)
    moved = pd.concat([c["changes"] for c in camps] + [e[2].assign(camp=1000 + e[2]["camp"]) for e in ends])
    total, each = pd.concat(e[0] for e in ends), pd.concat(e[1] for e in ends)
    same = [built_twice(0, 24)]
    rows, claims = _judged(observed, ahead, moved, total, each)
    claims.append(
        _coverage(
            "outside: twice", "two builds of the same files agree to the last bit", mean_of(same, [0]), 1, 1
        )
    )
    return Study(
        name="outside",
        question="A camp of files from outside: import, build and publish, judged by a truth kept apart",
        about="Not the functions but the tool: files are imported each week, the warehouse is built as of that "
        "Sunday, and the published tables are read. The camp follows rules of its own "
        "(`tests/calibration/outside_files.py`): eleven weeks, seven test days, 40 athletes "
        "after a camp of 40 the year before (for the link 60, with no camp before).",
        seeds=f"({WEEKLY_SEED}, 0, camp 0–{weekly - 1}), ({FINAL_SEED}, 0, camp 0–{final - 1})",
        columns=("what", "camps / units", "share", "mean error"),
        rows=rows,
        claims=claims,
    )


def _judged(
    seen: pd.DataFrame, ahead: pd.DataFrame, moved: pd.DataFrame, total: pd.DataFrame, each: pd.DataFrame
) -> tuple[list[list[str]], list[Claim]]:
    rows, claims = [], []

    def add(key: str, text: str, table: pd.DataFrame, column: str, low: float, high: float) -> None:
        result = share_of(table[column], table["camp"])
        off = mean_of(table["error"], table["camp"]).text() if "error" in table else "–"
        rows.append([text, f"{result.n_camps} / {result.n}", result.text(), off])
        if np.isfinite(low) or np.isfinite(high):
            claims.append(_coverage(key, text, result, low, high))

    for measure in JUDGED:
        part = moved[moved["measure"] == measure]
        add(
            f"outside: change {measure}",
            f"own change holds the planted one ({measure})",
            part,
            "held",
            0.93,
            0.97,
        )
    add(
        "outside: clear",
        "'clear' ever said over the stay where nothing changed (throw speed)",
        seen,
        "clear",
        -np.inf,
        0.05,
    )
    on, stalled = seen[seen["plan"] == "on plan"], seen[seen["plan"] == "stalled"]
    add("outside: alarm", "athletes on plan ever flagged off plan", on, "alarm", -np.inf, 0.08)
    add(
        "outside: stall",
        "stalls from week 4 flagged by the end of the plan",
        stalled,
        "alarm",
        -np.inf,
        np.inf,
    )
    whether = total[["camp", "refused"]]
    add("outside: refused", "total effect per kg refused", whether, "refused", -np.inf, np.inf)
    given = total[~total["refused"].astype(bool)]
    if len(given):
        add("outside: link", "total effect per kg within its interval", given, "held", 0.92, 0.98)
        add("outside: expected", "an athlete's expected change within its interval", each, "held", 0.92, 0.98)
    for measure in JUDGED:
        part = ahead[ahead["measure"] == measure]
        add(
            f"outside: ahead {measure}",
            f"projection holds a new session ({measure})",
            part,
            "held",
            0.92,
            0.98,
        )
    return rows, claims
