"""Every number of ten sheets again from the landed rows: pandas, numpy, statsmodels and scipy, none of our own sums.

Values, dates, counts, sizes and standings come from the landed CSV files alone; the statistic of a session is the one
the sheet states in words. Starts, ends and intervals are least squares by statsmodels (WLS, all stays of the line at
once, a column for the first test day; Seabold and Perktold 2010). The form of time is the one stated in the method that
is stored with the change; how much noisier a first day is comes from the restricted likelihood of these fits (Harville
1974), averaged over the ratios that the method names. The typical error is what such a fit leaves unweighted,
or the declared one.
Factors between units: the international yard and pound (NIST SP 811, appendix B).
"""

from __future__ import annotations

import csv
import io
import json
import math
import re
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy import stats

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.pages.recruit import issue
from latewood.pipeline.pages.recruit.issue import Issued, open_run
from tests.conftest import Camp
from tests.pipeline.pages.conftest import GIVEN, built_camp, heath

__all__ = ["built_camp", "heath"]

ATHLETES = ("T1", *(f"R{number}" for number in range(9)))
TO_METRIC = {"mph": 0.44704, "kg": 1.0, "cm": 1.0, "s": 1.0, "": 1.0, "%": 1.0}
FROM_METRIC = {
    "mph": 1 / 0.44704,
    "lb": 1 / 0.45359237,
    "in": 1 / 2.54,
    "ft": 1 / 30.48,
    "s": 1.0,
    "": 1.0,
}
DECLARED_WORTH = 10.0  # degrees of freedom that a declared typical error is taken for (docs/methods.md)
LOWER = ("sprint_10yd", "sprint_30yd", "sprint_60yd", "shuttle_5_10_5")


@pytest.fixture
def sheets(heath: Camp) -> dict[str, dict[str, Any]]:
    """Ten sheets as issued, by athlete: their JSON."""
    for athlete in ATHLETES:
        consent_book.record(heath.root, replace(GIVEN, athlete_id=athlete), "Ira")
    outcomes = issue.issue(open_run(heath.root, "Ira", forms=("json",)), ATHLETES)
    made = [one for one in outcomes if isinstance(one, Issued)]
    assert len(made) == len(ATHLETES)
    return {one.athlete_id: json.loads(next(iter(one.files.values()))) for one in made}


def landed(root: Path, name: str) -> pd.DataFrame:
    """The rows of the landed file of a name, as text."""
    (path,) = (root / "landing").glob(f"*/{name}")
    return pd.read_csv(path, dtype=str, keep_default_na=False)


def rows_of(root: Path) -> pd.DataFrame:
    rows = landed(root, "readings.csv")
    metric = rows["value"].astype(float) * rows["unit"].map(TO_METRIC)
    return rows.assign(on=pd.to_datetime(rows["measured_on"]), metric=metric)


def session(values: np.ndarray, stated: str, *, lower: bool) -> float:
    """The typical value of one session by the statistic that the sheet states."""
    best_first = np.sort(values) if lower else np.sort(values)[::-1]
    if stated.startswith("median"):
        return float(np.median(values))
    if stated.startswith("mean of best"):
        return float(best_first[: int(re.findall(r"best (\d+)", stated)[0])].mean())
    if stated.startswith("mean"):
        return float(values.mean())
    assert stated.startswith("best of"), stated
    return float(best_first[0])


def rounds_to(shown: float, value: float, unit: str, decimals: int) -> bool:
    """Whether a value of the rows, in metric units, is printed so: a tie may go either way."""
    return abs(shown - value * FROM_METRIC[unit]) <= 0.5 * 10.0**-decimals + 1e-9


def by_day(rows: pd.DataFrame, stated: str, *, lower: bool) -> pd.DataFrame:
    """One row an athlete and day: typical and best value, number of trials."""
    return (
        rows
        .groupby(["athlete", "on"])["metric"]
        .agg(
            typical=lambda v: session(v.to_numpy(), stated, lower=lower),
            best="min" if lower else "max",
            trials="size",
        )
        .reset_index()
        .sort_values(["athlete", "on"])
    )


def test_values_dates_and_counts_of_ten_sheets(heath: Camp, sheets: dict[str, dict[str, Any]]) -> None:
    rows, checked = rows_of(heath.root), 0
    for athlete, sheet in sheets.items():
        mine = rows[rows["athlete"] == athlete]
        assert sheet["available"] == len(sheet["measures"]) == len(set(mine["measure"]) - {
            "standing_height", "body_mass", "body_fat_skinfold",
        })  # fmt: skip
        for shown in sheet["measures"]:
            lower = shown["key"] in LOWER
            assert (shown["better"] == "lower") is lower
            own = mine[mine["measure"] == shown["key"]]
            days = by_day(own, shown["statistic"], lower=lower)
            last = days.iloc[-1]
            top = days.loc[days["best"].idxmin() if lower else days["best"].idxmax()]

            pairs = [(shown["latest"]["typical"], last["typical"]), (shown["latest"]["best"], last["best"])]
            pairs += [(shown["best"]["best"], top["best"]), (shown["best"]["typical"], top["typical"])]
            for point, (_, day) in zip(shown["points"], days.iterrows(), strict=True):
                pairs += [(point["typical"], day["typical"]), (point["best"], day["best"])]
                assert (point["held_on"], point["trials"]) == (str(day["on"].date()), day["trials"])
            for printed, value in pairs:
                assert rounds_to(printed, value, shown["unit"], shown["decimals"]), (athlete, shown["key"])
            assert (shown["sessions"], shown["trials"]) == (len(days), len(own))
            assert (shown["latest"]["held_on"], shown["best"]["held_on"]) == (
                str(last["on"].date()), str(top["on"].date()),
            )  # fmt: skip
            assert (shown["latest"]["trials"], shown["best"]["trials"]) == (last["trials"], top["trials"])
            assert (shown["latest"]["estimated_from"], shown["age_note"], shown["years"]) == ("", "", [])
            checked += 1
    assert checked == 14 + 9


def test_sizes_and_names_of_ten_sheets(heath: Camp, sheets: dict[str, dict[str, Any]]) -> None:
    rows, people = rows_of(heath.root), landed(heath.root, "roster.csv").set_index("athlete_id")
    for athlete, sheet in sheets.items():
        person, known = sheet["person"], people.loc[athlete]
        assert (person["name"], person["graduation_year"]) == (known["name"], int(known["graduation_year"]))
        for size in person["sizes"]:
            key = {"Height": "standing_height", "Body mass": "body_mass"}[size["label"]]
            own = rows[(rows["athlete"] == athlete) & (rows["measure"] == key)]
            day = own[own["on"] == own["on"].max()]
            summary = str(load_catalogue().measures[key].summary)
            value = session(day["metric"].to_numpy(), summary, lower=False)
            assert size["value"] == pytest.approx(value * FROM_METRIC[size["unit"]], abs=0.0501)
            assert size["measured_on"] == str(own["on"].max().date())
    assert [size["label"] for size in sheets["T1"]["person"]["sizes"]] == ["Height", "Body mass"]


def test_standings_of_ten_sheets(heath: Camp, sheets: dict[str, dict[str, Any]]) -> None:
    rows, people = rows_of(heath.root), landed(heath.root, "roster.csv").set_index("athlete_id")
    exit_speed = rows[rows["measure"] == "exit_speed"]
    days = by_day(exit_speed, "median", lower=False)
    last = days.groupby("athlete").last()
    ages = {
        athlete: (last.loc[athlete, "on"].date() - date.fromisoformat(people.loc[athlete, "birth_date"])).days
        / 365.25
        for athlete in last.index
    }
    assert all(15 <= age < 18 for age in ages.values())
    for athlete, sheet in sheets.items():
        shown = next(m for m in sheet["measures"] if m["key"] == "exit_speed")
        mine, others = last.loc[athlete, "typical"], last.drop(athlete)["typical"].to_numpy()
        n, below = len(others), float((others < mine).sum() + (others == mine).sum() / 2)
        low = stats.beta.ppf(0.05, below + 0.5, n - below + 0.5) if below > 0 else 0.0
        high = stats.beta.ppf(0.95, below + 0.5, n - below + 0.5) if below < n else 1.0
        wanted = [min(99, max(1, round(100 * share))) for share in (below / n, low, high)]
        standing = shown["standing"]
        assert [standing[k] for k in ("percentile", "low", "high")] == wanted, athlete
        assert (standing["n"], standing["ages"], standing["level"]) == (24, "15–17", 0.9)


def test_changes_measured_on_one_athlete_alone_are_plain_least_squares(
    heath: Camp, sheets: dict[str, dict[str, Any]]
) -> None:
    rows, checked = rows_of(heath.root), 0
    errors = {key: one.typical_error for key, one in load_catalogue().measures.items()}
    methods = dict(heath.rows("select measure, method from trend where athlete_id = 'T1'"))
    for shown in sheets["T1"]["measures"]:
        if shown["key"] == "exit_speed":
            continue
        assert "in linear time" in methods[shown["key"]]
        own = rows[(rows["athlete"] == "T1") & (rows["measure"] == shown["key"])]
        days = by_day(own, shown["statistic"], lower=shown["key"] in LOWER)
        weeks = (days["on"] - days["on"].min()).dt.days.to_numpy() / 7.0
        slope, start = np.polyfit(weeks, days["typical"].to_numpy(), 1)
        growth, half = shown["growth"], 10 ** -shown["decimals"]
        factor = FROM_METRIC[shown["unit"]]
        assert growth["start"] == pytest.approx(start * factor, abs=half / 2 + 1e-9)
        assert growth["change"] == pytest.approx(slope * weeks[-1] * factor, abs=half / 2 + 1e-9)
        assert growth["end"] == pytest.approx((start + slope * weeks[-1]) * factor, abs=1.01 * half)
        error = errors[shown["key"]]
        assert error is not None
        assert rounds_to(shown["typical_error"], error, shown["unit"], shown["decimals"])
        spread = math.sqrt(((weeks - weeks.mean()) ** 2).sum())
        wide = stats.t.ppf(0.975, DECLARED_WORTH) * error / spread * weeks[-1] * factor
        assert (growth["high"] - growth["low"]) / 2 == pytest.approx(wide, abs=half)
        assert growth["weeks"] == round(weeks[-1], 1)
        assert (growth["first_on"], growth["last_on"]) == tuple(
            str(d.date()) for d in days["on"].iloc[[0, -1]]
        )
        checked += 1
    assert checked == 13


def test_changes_of_many_athletes_are_one_weighted_least_squares_fit(
    heath: Camp, sheets: dict[str, dict[str, Any]]
) -> None:
    rows = rows_of(heath.root)
    days = by_day(rows[rows["measure"] == "exit_speed"], "median", lower=False)
    ((method,),) = set(heath.rows("select method from trend where measure = 'exit_speed'"))
    scale = re.search(r"log \(scale ([\d.]+) weeks\)", method)
    weeks = (days["on"] - pd.Timestamp(2032, 6, 1)).dt.days.to_numpy() / 7.0  # since everybody came
    along = weeks if scale is None else np.log1p(weeks / float(scale[1]))
    first = (days["on"] == days.groupby("athlete")["on"].transform("min")).to_numpy(dtype=float)
    who = pd.get_dummies(days["athlete"]).astype(float)
    design = pd.concat([who, who.mul(along, axis=0).add_suffix(" f(t)")], axis=1).assign(first=first)
    ratio = first_day_ratio(days["typical"].to_numpy(), design, first)
    fit = sm.WLS(days["typical"].to_numpy(), design, weights=np.where(first > 0, 1 / ratio, 1.0)).fit()
    # unweighted: a clean first day must not make the typical error small
    unweighted = sm.OLS(days["typical"].to_numpy(), design).fit()
    for athlete, sheet in sheets.items():
        shown = next(m for m in sheet["measures"] if m["key"] == "exit_speed")
        growth = shown["growth"]
        assert rounds_to(shown["typical_error"], math.sqrt(unweighted.scale), "mph", 1)
        mine = along[(days["athlete"] == athlete).to_numpy()]
        factor, slope = FROM_METRIC["mph"], fit.params[f"{athlete} f(t)"]
        change = slope * (mine[-1] - mine[0]) * factor
        start = (fit.params[athlete] + slope * mine[0]) * factor
        assert growth["start"] == pytest.approx(start, abs=0.0501)
        assert growth["change"] == pytest.approx(change, abs=0.0501)
        assert growth["end"] == pytest.approx(start + change, abs=0.101)
        wider = serial_factor(days, weeks, design, ratio, athlete)
        middle = slope * (mine[-1] - mine[0]) * factor
        bounds = fit.conf_int().loc[f"{athlete} f(t)"] * (mine[-1] - mine[0]) * factor
        low, high = (middle + (bounds - middle) * wider).to_numpy()
        assert [growth["low"], growth["high"]] == pytest.approx([low, high], abs=0.0501)


def serial_factor(
    days: pd.DataFrame, weeks: np.ndarray, design: pd.DataFrame, ratio: float, athlete: str
) -> float:
    """By how much noise that is carried on widens one athlete's interval: every kind fitted by statsmodels' GLS.

    Kinds and what is thought of them beforehand are those of docs/methods.md, section 2.
    """
    kinds = [(0.0, 1.0), *((share, half) for share in (0.3, 0.6, 0.9) for half in (1.0, 2.0, 4.0))]
    root = np.where(design["first"] > 0, ratio**-0.5, 1.0)
    same = days["athlete"].to_numpy()[:, None] == days["athlete"].to_numpy()
    lag = np.abs(weeks[:, None] - weeks)
    own = days["athlete"].to_numpy() == athlete
    slope_of = np.linalg.pinv(
        design.to_numpy()[own][
            :, [design.columns.get_loc(athlete), design.columns.get_loc(f"{athlete} f(t)")]
        ]
        * root[own][:, None]
    )[1]
    deviances, variances, spreads = [], [], []
    for share, half in kinds:
        noise = np.where(same, share * 0.5 ** (lag / half), 0.0) + (1.0 - share) * np.eye(len(weeks))
        cover = noise / np.outer(root, root)
        fit = sm.GLS(days["typical"].to_numpy(), design.to_numpy(), sigma=cover).fit()
        x = design.to_numpy()
        determinants = np.linalg.slogdet(cover)[1] + np.linalg.slogdet(x.T @ np.linalg.solve(cover, x))[1]
        deviances.append(fit.df_resid * np.log(fit.scale) + determinants)
        variances.append(fit.scale)
        spreads.append(slope_of @ noise[np.ix_(own, own)] @ slope_of)
    before = np.array([0.5, *[0.5 / 9] * 9])
    chance = before * np.exp(-0.5 * (np.array(deviances) - min(deviances)))
    chance /= chance.sum()
    return math.sqrt(float(chance @ (np.array(variances) * np.array(spreads))) / (variances[0] * spreads[0]))


def first_day_ratio(values: np.ndarray, design: pd.DataFrame, first: np.ndarray) -> float:
    """How much larger the variance of a first day is: the mean over a few ratios by their restricted likelihood."""
    ratios, deviances = np.array([1.0, 1.5, 2.0, 3.0, 4.5]), []
    for ratio in ratios:
        weights = np.where(first > 0, 1 / ratio, 1.0)
        fit = sm.WLS(values, design, weights=weights).fit()
        _, determinant = np.linalg.slogdet(design.to_numpy().T @ (weights[:, None] * design.to_numpy()))
        deviances.append(fit.df_resid * math.log(fit.scale) - np.log(weights).sum() + determinant)
    chance = np.exp(-0.5 * (np.array(deviances) - min(deviances)))
    return float(chance @ ratios / chance.sum())


def test_the_csv_carries_the_same_numbers_as_the_json(heath: Camp, sheets: dict[str, dict[str, Any]]) -> None:
    (made,) = issue.issue(open_run(heath.root, "Ira", forms=("csv",)), ("T1",))
    assert isinstance(made, Issued)
    text = next(iter(made.files.values())).decode("utf-8-sig")
    for row, shown in zip(csv.DictReader(io.StringIO(text)), sheets["T1"]["measures"], strict=True):
        assert [float(row[k]) for k in ("best", "latest", "change_start", "change_end", "change_low")] == [
            shown["best"]["best"], shown["latest"]["typical"], *(shown["growth"][k] for k in ("start", "end", "low")),
        ]  # fmt: skip
        assert (row["best_on"], row["change_last_on"]) == (
            shown["best"]["held_on"],
            shown["growth"]["last_on"],
        )
