"""Sessions, people and stays of a simulated camp, with the columns of the warehouse."""

from __future__ import annotations

import numpy as np
import pandas as pd

from tests.camp_paths import BODY_MASS, STRENGTH, Process, mishits


def days_of_tests(rng: np.random.Generator, last: np.ndarray, gap: tuple[int, int]) -> pd.DataFrame:
    """Days of the test sessions of each athlete: (row, day); day 0 is intake, the last day is exit."""
    most = int(last.max() // gap[0]) + 2
    days = np.cumsum(rng.integers(gap[0], gap[1] + 1, (len(last), most)), axis=1) - gap[0]
    days[:, 0] = rng.integers(0, 3, len(last))
    rows, _ = np.nonzero(days <= last[:, None] - 7)
    inside = pd.DataFrame({"row": rows, "day": days[days <= last[:, None] - 7]})
    exits = pd.DataFrame({"row": np.arange(len(last)), "day": last})
    return pd.concat([inside, exits]).drop_duplicates().sort_values(["row", "day"], ignore_index=True)


def with_second_day(tests: pd.DataFrame) -> pd.DataFrame:
    """The test days and one more three days after each athlete's first, so that a poor first day can be told."""
    first = tests.groupby("row", as_index=False)["day"].min()
    both = pd.concat([tests, first.assign(day=first["day"] + 3)])
    return both.sort_values(["row", "day"], ignore_index=True)


def output_sessions(
    rng: np.random.Generator,
    p: Process,
    frame: pd.DataFrame,
    ability: np.ndarray,
    tests: pd.DataFrame,
    bad_day_share: float,
) -> pd.DataFrame:
    form = rng.normal(0, p.session_sd, len(tests))
    worse = np.sign(p.bad_day) * form > 0.8 * p.session_sd
    intake = tests["day"].to_numpy() <= 3
    missed = ~intake & (rng.random(len(tests)) < np.where(worse, 0.3, 0.05))
    bad = rng.random(len(frame)) < bad_day_share
    opening = (tests["day"] == tests.groupby("row")["day"].transform("min")).to_numpy()
    shift = np.where(opening & bad[tests["row"]], p.bad_day, 0.0)
    trials = rng.normal(0, p.trial_sd, (len(tests), 10)) + mishits(rng, p, (len(tests), 10))
    count = rng.integers(5, 11, len(tests))
    trials[np.arange(10) >= count[:, None]] = np.nan
    true = ability[tests["row"], tests["day"]] + form + shift
    best = np.nanmin(trials, axis=1) if p.bad_day > 0 else np.nanmax(trials, axis=1)
    table = tests.assign(
        measure=p.measure,
        line=p.line,
        value=true + np.nanmedian(trials, axis=1),
        best=true + best,
        n_trials=count,
        trial_sd=np.nanstd(trials, axis=1, ddof=1),
    )
    return session_frame(frame, table[~missed])


def strength_sessions(
    rng: np.random.Generator, frame: pd.DataFrame, strength: np.ndarray, test_sd: float
) -> pd.DataFrame:
    tests = days_of_tests(rng, frame["last_day"].to_numpy(), (21, 42))
    value = strength[tests["row"], tests["day"]] + rng.normal(0, test_sd, len(tests))
    made = {"measure": STRENGTH, "line": "", "n_trials": 1, "trial_sd": np.nan}
    return session_frame(frame, tests.assign(value=value, best=value, **made))


def session_frame(frame: pd.DataFrame, table: pd.DataFrame) -> pd.DataFrame:
    who = frame.iloc[table["row"].to_numpy()].reset_index(drop=True)
    held_on = pd.Series(who["arrival"].to_numpy() + table["day"].to_numpy().astype("timedelta64[D]"))
    return pd.DataFrame({
        "session_id": who["athlete_id"] + "@" + held_on.dt.strftime("%Y-%m-%d"),
        "athlete_id": who["athlete_id"],
        "stay_id": who["stay_id"],
        "camp_id": who["camp_id"],
        "held_on": held_on,
        "weeks": table["day"].to_numpy() / 7,
        "is_intake": table["day"].to_numpy() <= 3,
        "measure": table["measure"].to_numpy(),
        "line": table["line"].to_numpy(),
        "own_line": table["line"].to_numpy(),
        "value": table["value"].to_numpy(),
        "shift": 0.0,
        "shift_se": 0.0,
        "best": table["best"].to_numpy(),
        "n_trials": table["n_trials"].to_numpy(),
        "trial_sd": table["trial_sd"].to_numpy(),
        "imports": "simulated",
    })


def mass_sessions(frame: pd.DataFrame, weighins: pd.DataFrame) -> pd.DataFrame:
    rows = pd.Index(frame["stay_id"]).get_indexer(weighins["stay_id"])
    day = (weighins["measured_on"] - pd.Series(frame["arrival"].to_numpy()[rows])).dt.days.to_numpy()
    table = pd.DataFrame({"row": rows, "day": day, "value": weighins["kg"].to_numpy()})
    made = {"measure": BODY_MASS, "line": "", "n_trials": 1, "trial_sd": np.nan}
    return session_frame(frame, table.assign(best=table["value"], **made))


def people_table(frame: pd.DataFrame) -> pd.DataFrame:
    born = frame["arrival"].to_numpy() - (365.25 * frame["age"].to_numpy()).astype("timedelta64[D]")
    return pd.DataFrame({
        "athlete_id": frame["athlete_id"],
        "display_name": "Athlete " + frame["athlete_id"],
        "birth_date": born,
        "sex": "male",
        "sport": "baseball",
        "graduation_year": pd.Series(born).dt.year + 18,
        "positions": "OF",
        "bats": "R",
        "throws": "R",
        "import_id": "simulated",
        "row_no": np.arange(2, len(frame) + 2),
    })


def stays_table(frame: pd.DataFrame, early: np.ndarray) -> pd.DataFrame:
    def after(days: str) -> np.ndarray:
        return frame["arrival"].to_numpy() + frame[days].to_numpy().astype("timedelta64[D]")

    return pd.DataFrame({
        "stay_id": frame["stay_id"],
        "athlete_id": frame["athlete_id"],
        "camp_id": frame["camp_id"],
        "arrived_on": frame["arrival"],
        "left_on": after("last_day"),
        "planned_until": after("planned_day"),
        "left_early": early,
        "leave_reason": None,
        "import_id": "simulated",
        "row_no": np.arange(2, len(frame) + 2),
    })
