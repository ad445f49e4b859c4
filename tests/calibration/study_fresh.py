"""The whole program on worlds that it was not made for: files in, published tables and weekly looks judged."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from datetime import timedelta
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd

from latewood.pipeline.ingest.actions import import_files
from latewood.pipeline.ingest.program import prepare_folder
from latewood.pipeline.stats.change.reliability import measurement_errors
from latewood.pipeline.stats.change.trend import trends
from latewood.pipeline.stats.plans.power import on_steps, plan_power
from latewood.pipeline.stats.plans.reviews import CampPeople, plan_reviews
from latewood.pipeline.stats.plans.rules import NOT_ALLOWED, OFF_PLAN, PlanSettings
from latewood.pipeline.stats.plans.weighin import PACE_DAYS, mass_trends
from latewood.pipeline.warehouse.connection import open_published, read_sql
from tests.calibration.fresh_worlds import (
    APART,
    BEGINS,
    BOUNDS,
    CAMPS,
    ON_THE_SCALE,
    SEED,
    WORLDS,
    Handed,
    Person,
    hand_in,
    target_of,
    usual_gain,
)
from tests.calibration.outcome import Claim, Estimate, Study, mean_of, share_of
from tests.calibration.varied import MEASURES, as_frame
from tests.camps import MPH

REFIT = (28, 84)  # days of a camp on which the numbers pooled for body mass are estimated anew
WITHIN = 42  # days in which a stall is to be found
TEXTS = {
    "change": "interval of an athlete's change holds it",
    "third": "interval of an athlete's change holds it, {} third by noise",
    "clear_ever": "no change: ever called clear, looked at after each session",
    "power": "gain of 2.5 to 3.5 typical errors called a clear gain by the end",
    "size": "interval of the size holds changes of 2 to 3 typical errors",
    "gain": "interval of the camp's gain holds the usual gain of its kind",
    "error": "interval of the typical error holds it",
    "alarm": "plans kept, ever flagged",
    "found": "full stalls flagged within six weeks",
    "chance": "chance of the target half-way, said less came",
    "rate": "interval of the rate holds that of the last three weeks",
    "projection": "interval of a past projection holds the session that came",
    "link": "number per kilogram within its interval, where one is given",
    "told": "a kilogram brings nothing: told from zero",
}
THIRDS = ("quietest", "middle", "noisiest")
Found = dict[str, pd.DataFrame]


class Published:
    """The published build of a folder."""

    def __init__(self, root: Path) -> None:
        self.root = root

    def table(self, name: str) -> pd.DataFrame:
        with open_published(self.root) as connection:
            return connection.execute(f"select * from {name}").df()

    def read(self, name: str, **given: str) -> pd.DataFrame:
        with open_published(self.root) as connection:
            return connection.execute(read_sql(f"read/{name}.sql"), given).df()


def built(place: Path, handed: Handed) -> Published:
    """Land the program's files and build, as of the end of its last camp."""
    root = place / "data"
    prepare_folder(root)
    program = f'name = "Fresh"\ninvented = true\nclock = "{handed.ends}"\n'
    (root / "program.toml").write_text(program, encoding="utf-8")
    import_files(root, handed.write(place / "inbox"), "fresh")
    return Published(root)


def _changes(table: pd.DataFrame, people: Mapping[str, Person], error: float) -> pd.DataFrame:
    """Change and size of each stay with an interval beside the planted change over the same days, in mph."""
    rows = []
    for r in table[table["low"].notna()].itertuples():
        one = people[r.athlete_id]
        last = (pd.Timestamp(r.last_on).date() - BEGINS).days - one.arrives
        true = one.output[last] - one.output[last - round(7 * r.weeks)]
        sized = np.nan if pd.isna(r.sized_low) else float(r.sized_low / MPH <= true <= r.sized_high / MPH)
        rows.append({
            "camp": one.camp,
            "held": r.low / MPH <= true <= r.high / MPH,
            "off": r.change / MPH - true,
            "width": (r.high - r.low) / MPH,
            "noise": float(np.mean(one.variance)),
            "sized": sized,
            "times": true / error,
            "n": r.n_sessions,
        })
    return pd.DataFrame(rows)


def _looks(
    values: pd.DataFrame, stays: pd.DataFrame, people: Mapping[str, Person], error: float
) -> pd.DataFrame:
    """Each stay of four sessions or more: ever called clear, or a clear gain, with a look after each session."""
    values = values.sort_values("held_on")
    order = values.groupby("stay_id").cumcount() + 1
    most, looks = values.groupby("stay_id").size(), []
    for k in range(4, int(most.max()) + 1):
        going = stays["stay_id"].map(most).fillna(0) > k
        then = stays.assign(left_on=pd.to_datetime(stays["left_on"]).mask(going))
        seen = values[order <= k]
        made = as_frame(trends(seen, MEASURES, measurement_errors(seen, MEASURES), then))
        looks.append(made[made["n_sessions"] == k][["athlete_id", "n_sessions", "verdict"]])
    table = pd.concat(looks, ignore_index=True)
    table["clear"], table["gain"] = table["verdict"].str.startswith("clear"), table["verdict"] == "clear gain"
    ever = table.groupby("athlete_id").agg(
        n=("n_sessions", "max"), clear=("clear", "any"), gain=("gain", "any")
    )
    who = [people[athlete] for athlete in ever.index]
    ever["camp"], ever["still"] = [one.camp for one in who], [one.still for one in who]
    ever["times"] = [(one.output[one.tests[-1]] - one.output[one.tests[0]]) / error for one in who]
    return ever.reset_index()


@cache
def _usual(at: int, weeks: int) -> np.ndarray:
    return usual_gain(WORLDS[at], at, weeks)


def _gains(table: pd.DataFrame, at: int, handed: Handed) -> pd.DataFrame:
    rows = []
    for r in table[table["gain"].notna()].itertuples():
        camp = int(str(r.camp_id)[1:])
        usual = _usual(at, handed.weeks[camp])
        true = float(np.interp(7 * r.weeks, np.arange(len(usual)), usual))
        rows.append({"camp": camp, "held": r.low / MPH <= true <= r.high / MPH, "off": r.gain / MPH - true})
    return pd.DataFrame(rows, columns=["camp", "held", "off"])


def _plan_looks(published: Published, people: Mapping[str, Person]) -> pd.DataFrame:
    """Every plan of the program on every Sunday of its weeks, from the weigh-ins until then."""
    weighins = published.read("weighins", body_mass="body_mass")
    weighins["measured_on"] = pd.to_datetime(weighins["measured_on"])
    plans, camp = (
        published.read("plans"),
        CampPeople(people=published.read("people"), stays=published.read("stays")),
    )
    ends = {name: one.arrives - one.camp * APART + one.plan_days for name, one in people.items() if one.plan}
    return weekly_reviews(weighins, plans, camp, ends, {name: one.camp for name, one in people.items()})


def weekly_reviews(
    weighins: pd.DataFrame,
    plans: pd.DataFrame,
    camp: CampPeople,
    ends: Mapping[str, int],
    camps: Mapping[str, int],
) -> pd.DataFrame:
    """Reviews on every Sunday from the fourth week of a camp on, with `camp` and `on` (days after `BEGINS`).

    `ends` is the last day of each plan, of its camp; the numbers pooled for body mass are learned on `REFIT`.
    """
    on, rows = weighins["measured_on"], []
    for c in range(CAMPS):
        of_camp = [name for name in ends if camps[name] == c]
        mine = plans[plans["athlete_id"].isin(of_camp)]
        if not len(mine):
            continue
        for day in range(REFIT[0], max(ends[name] for name in of_camp) + 7, 7):
            known = weighins[on <= pd.Timestamp(BEGINS + timedelta(days=c * APART + day))]
            if day in REFIT:
                pooled = mass_trends(known)
                power = plan_power(on_steps(pooled.variances), PlanSettings(), gaps=(0.0,))
            fit = mass_trends(known[known["camp_id"] == f"C{c}"], pooled.variances, pooled.course)
            table = as_frame(plan_reviews(mine, camp, fit, power=power))
            rows.append(table[table["status"] != NOT_ALLOWED].assign(camp=c, on=c * APART + day))
    return pd.concat(rows, ignore_index=True)


def _plans(looks: pd.DataFrame, people: Mapping[str, Person]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """One row a plan: flags, chance half-way; one row a look: whether the rate's interval held that of three weeks."""
    ever, now = [], []
    for athlete, table in looks.groupby("athlete_id"):
        one = people[str(athlete)]
        day = table["on"].to_numpy() - one.arrives
        table, day = table[day <= one.plan_days], day[day <= one.plan_days]
        off, ill = table["status"].isin(OFF_PLAN).to_numpy(), one.away[0] >= 0
        in_time = (day > one.stalls) & (day <= one.stalls + WITHIN)
        half = int(np.argmin(np.abs(day - one.plan_days / 2))) if len(day) else 0
        ever.append({
            "camp": one.camp,
            "plan": one.plan + (", ill" if ill else ""),
            "ever": bool(off.any()),
            "found": bool((off & in_time).any()),
            "seen_out": one.stalls + WITHIN <= one.plan_days and bool(in_time.any()),
            "said": float(table["chance_target"].iloc[half] or np.nan) if len(day) else np.nan,
            "came": bool(one.body[one.plan_days] >= target_of(one)),
            "scale": bool(one.body[one.plan_days] + ON_THE_SCALE >= target_of(one)),
            "share": float(table["alarm_share"].iloc[-1] or np.nan) if len(day) else np.nan,
        })
        for r, d in zip(table.itertuples(), day, strict=True):
            seen = (pd.Timestamp(r.as_of).date() - BEGINS).days - one.arrives
            if seen >= PACE_DAYS and pd.notna(r.rate_low):
                true = (one.body[seen] - one.body[seen - PACE_DAYS]) * 7 / PACE_DAYS
                now.append({
                    "camp": one.camp,
                    "plan": one.plan,
                    "held": r.rate_low <= true <= r.rate_high,
                    "day": d,
                })
    return pd.DataFrame(ever), pd.DataFrame(now)


def _links(table: pd.DataFrame, per_kg: float) -> pd.DataFrame:
    program = "measure == 'exit_speed' and scope == 'program' and adjustment == 'time'"
    rows = [
        {
            "given": pd.notna(r.per_kg),
            "held": pd.notna(r.per_kg) and r.low / MPH <= per_kg <= r.high / MPH,
            "told": pd.notna(r.per_kg) and (r.low > 0 or r.high < 0),
        }
        for r in table.query(program).itertuples()
    ]
    return pd.DataFrame(rows, columns=["given", "held", "told"])


def judged(at: int, folder: int, seed: int = SEED) -> Found:
    """Everything that is judged of one program."""
    world, handed = WORLDS[at], hand_in(WORLDS[at], at, folder, seed)
    people = {one.name: one for one in handed.people}
    error = float(np.sqrt(np.mean([v for one in handed.people for v in one.variance])))
    with tempfile.TemporaryDirectory() as place:
        published = built(Path(place), handed)
        values = published.table("session_value").query("measure == 'exit_speed'").reset_index(drop=True)
        ever, now = _plans(_plan_looks(published, people), people)
        told = published.table("measurement_error").query("measure == 'exit_speed'")
        ahead = published.table("past_projection").query("outcome == 'scored' and measure == 'exit_speed'")
        found = {
            "changes": _changes(published.table("trend").query("measure == 'exit_speed'"), people, error),
            "looks": _looks(values, published.read("stays"), people, error),
            "gains": _gains(published.table("cohort_gain").query("measure == 'exit_speed'"), at, handed),
            "errors": pd.DataFrame({
                "camp": 0,
                "held": (told["low"] / MPH <= error) & (error <= told["high"] / MPH),
                "off": told["typical_error"] / MPH / error - 1,
            }),
            "plans": ever,
            "rates": now,
            "ahead": pd.DataFrame({"camp": ahead["camp_id"], "held": ahead["inside_95"].astype(bool)}),
            "links": _links(published.table("mass_link"), world.per_kg).assign(camp=0),
        }
    return {
        name: table.assign(camp=str(folder) + "-" + table["camp"].astype(str))
        for name, table in found.items()
    }


def together(parts: Sequence[Found]) -> Found:
    return {name: pd.concat([part[name] for part in parts], ignore_index=True) for name in parts[0]}


def estimates(found: Found, per_kg: float) -> dict[str, Estimate]:
    """What is held against `BOUNDS`."""
    changes, looks, plans, links = found["changes"], found["looks"], found["plans"], found["links"]
    third = pd.qcut(changes["noise"], 3, labels=THIRDS)
    still = looks[looks["still"]]
    large = looks[looks["times"].between(2.5, 3.5)]
    sized = changes[changes["times"].abs().between(2, 3) & changes["sized"].notna()]
    kept, stalled = (
        plans[plans["plan"] == "kept"],
        plans[plans["plan"].str.startswith("stalled") & plans["seen_out"]],
    )
    asked, given = plans[plans["said"].notna()], links[links["given"]]
    result = {"change": share_of(changes["held"], changes["camp"])}
    for name in THIRDS:
        part = changes[third == name]
        result[f"third {name}"] = share_of(part["held"], part["camp"])
    result |= {
        "clear_ever": share_of(still["clear"], still["camp"]),
        "power": share_of(large["gain"], large["camp"]),
        "size": share_of(sized["sized"], sized["camp"]),
        "gain": share_of(found["gains"]["held"], found["gains"]["camp"]),
        "error": share_of(found["errors"]["held"], found["errors"]["camp"]),
        "alarm": share_of(kept["ever"], kept["camp"]),
        "found": share_of(stalled["found"], stalled["camp"]),
        "chance": mean_of(asked["said"] - asked["came"], asked["camp"]),
        "rate": share_of(found["rates"]["held"], found["rates"]["camp"]),
        "projection": share_of(found["ahead"]["held"], found["ahead"]["camp"]),
        "link": share_of(given["held"], given["camp"]),
    }
    if per_kg == 0.0:
        result["told"] = share_of(links["told"], links["camp"])
    return result


def _text(key: str) -> str:
    return TEXTS["third"].format(key[6:]) if key.startswith("third") else TEXTS[key]


def besides(found: Found) -> list[tuple[str, Estimate]]:
    """What is shown without a bound: why some of the others are what they are."""
    changes, gains, plans, rates = found["changes"], found["gains"], found["plans"], found["rates"]
    result = [
        ("an athlete's change less the true one, mph", mean_of(changes["off"], changes["camp"])),
        ("the camp's gain less the usual one, mph", mean_of(gains["off"], gains["camp"])),
        ("a number per kilogram is given", share_of(found["links"]["given"], found["links"]["camp"])),
        ("typical error, share too large", mean_of(found["errors"]["off"], found["errors"]["camp"])),
    ]
    asked = plans[plans["said"].notna()]
    on_scale = "chance of the target half-way, said less what came on the scale, food in it"
    result.append((on_scale, mean_of(asked["said"] - asked["scale"], asked["camp"])))
    for kind, part in asked.groupby("plan"):
        result.append((
            f"plans {kind}: chance of the target half-way, said",
            mean_of(part["said"], part["camp"]),
        ))
        result.append((f"plans {kind}: reached on the scale", share_of(part["scale"], part["camp"])))
    for kind, part in rates.groupby("plan"):
        result.append((f"plans {kind}: interval of the rate holds it", share_of(part["held"], part["camp"])))
    return result


def run_fresh(size: float) -> Study:
    """Ten programs of four camps in each of three worlds (at full size)."""
    folders = max(2, round(10 * size))
    return study_of([
        together([judged(at, folder) for folder in range(folders)]) for at in range(len(WORLDS))
    ])


def study_of(worlds: Sequence[Found]) -> Study:
    """The study of what was found in each of `WORLDS`."""
    rows, claims = [], []
    folders = [one["errors"]["camp"].nunique() for one in worlds]
    for world, found in zip(WORLDS, worlds, strict=True):
        for key, one in estimates(found, world.per_kg).items():
            low, high = BOUNDS["change" if key.startswith("third") else key]
            if one.n:
                text = f"{_text(key)}, {claim_range(low, high)} ({world.name})"
                claims.append(
                    Claim(key=f"fresh {key}: {world.name}", text=text, found=one, low=low, high=high)
                )
        rows += [[world.name, text, f"{one.n_camps} / {one.n}", one.text()] for text, one in besides(found)]
    return Study(
        name="fresh",
        question="Worlds that nothing here was made for: are the numbers right there?",
        about="Three worlds (`tests/calibration/fresh_worlds.py`), written down with their bounds before the other "
        "studies' processes were read and before any run (their code came after): output that clicks and illness; a "
        "radar that drifts and a test that is learned; growth spurts in small camps. Files are landed and built by the "
        "program, as of the end of the last of four camps, and its published tables are read. The looks in between "
        "(ever called clear, weekly reviews of plans) are the build's own functions on what was known by then.",
        seeds=", ".join(f"({SEED}, {at}, program 0–{n - 1})" for at, n in enumerate(folders)),
        columns=("world", "what", "camps / units", "found"),
        rows=rows,
        claims=claims,
        notes=(
            "What came *on the scale* was added after a first look: weigh-ins hold the food of a day, .25 kg on "
            "average, which the truth of the bound leaves out. The rate holds the body's wander.",
        ),
    )


def claim_range(low: float, high: float) -> str:
    if low <= 0.0 and high < 1.0 and low > -0.01:
        return f"at most {high:g}"
    return f"at least {low:g}" if high >= 1.0 else f"{low:g} to {high:g}"
