"""Trends of all stays from sums that the database adds up, beside statsmodels and beside our own fit of the rows."""

from __future__ import annotations

import warnings
from typing import Any

import duckdb
import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from latewood.pipeline.stats.engine.mixed import fit_random_slope
from latewood.pipeline.stats.engine.mixed_products import sums_of_products
from latewood.pipeline.stats.engine.mixed_sums import group_sums
from latewood.pipeline.warehouse.stay_sums import DuckEngine, LineFit, line_fits, stay_sums
from tests.trial_values import odd_values, trial_values


def sums_by_duckdb(frame: pd.DataFrame) -> pd.DataFrame:
    with duckdb.connect() as connection:
        connection.register("trial_value", frame)
        return stay_sums(DuckEngine(connection=connection))


def fits_of(frame: pd.DataFrame, *, penalised: bool = True) -> tuple[LineFit, ...]:
    return line_fits(sums_by_duckdb(frame), penalised=penalised)


def summarised(trials: pd.DataFrame) -> float:
    """The session value of some trials, by the words of the catalogue."""
    summary, keep, better = (trials[c].iloc[0] for c in ("summary", "keep", "better"))
    ordered = trials["value"].sort_values(ascending=better == "lower")
    return float({
        "median": ordered.median(), "mean": ordered.mean(), "best": ordered.iloc[0],
        "mean of best": ordered.iloc[:keep].mean(),
    }[summary])  # fmt: skip


def sessions_of(frame: pd.DataFrame) -> pd.DataFrame:
    """The same session values and centring by pandas."""
    used = frame.dropna(subset=["value", "stay_id"])
    keys = ["measure", "line", "stay_id", "day"]
    one = used.groupby(keys).agg(weeks=("weeks", "min"), i=("is_intake", "max"))
    one["value"] = used.groupby(keys)[["value", "summary", "keep", "better"]].apply(summarised)
    one = one.reset_index()
    first = one.groupby(keys[:3])["day"].transform("min")
    one["weeks"] = one["weeks"].fillna((one["day"] - first) / 7.0)
    middle = one.groupby(keys[:2])[["weeks", "value"]].transform("mean")
    return one.assign(
        t=one["weeks"] - middle["weeks"], y=one["value"] - middle["value"], i=one["i"].astype(float)
    )


def columns_of(rows: pd.DataFrame) -> np.ndarray:
    return np.column_stack([np.ones(len(rows)), rows["t"], rows["i"]])


def by_statsmodels(model: sm.MixedLM) -> Any:
    """The first of its searches that says it has converged, at tight tolerances.

    At its usual tolerances lbfgs stopped, and said so, with deviances 49, 221 and 706 above the lowest on data drawn
    like these; powell said it had converged 0.007 above.
    """
    for method, options in (("bfgs", {"gtol": 1e-7}), ("powell", {"xtol": 1e-10, "ftol": 1e-14})):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # it tells of searches that failed, which are left out here
            result = model.fit(reml=True, method=[method], **options)
        if result.converged:
            return result
    raise AssertionError("no search of statsmodels converged")


@pytest.mark.parametrize("stays", [20, 120, pytest.param(400, marks=pytest.mark.slow)])
def test_fixed_effects_and_criterion_are_those_of_statsmodels(stays: int) -> None:
    frame = trial_values(stays, 12, seed=stays)
    ours = fits_of(frame, penalised=False)[0].fit
    rows = sessions_of(frame)
    x = columns_of(rows)
    theirs = by_statsmodels(sm.MixedLM(rows["y"], x, groups=rows["stay_id"], exog_re=x[:, :2]))
    assert ours.converged
    assert ours.criterion == pytest.approx(-2.0 * theirs.llf, abs=1e-6)
    assert np.allclose(theirs.fe_params, ours.beta, rtol=0.0, atol=1e-5)
    assert np.allclose(theirs.cov_re, ours.random_cov, rtol=1e-3, atol=1e-3)


def test_sums_from_the_database_give_the_fit_of_the_rows() -> None:
    frame = trial_values(60, 8, seed=1, lines=2)
    result = fits_of(frame)
    assert [f.line for f in result] == ["tee 0", "tee 1"]
    for one in result:
        rows = sessions_of(frame[frame["line"] == one.line])
        x = columns_of(rows)
        theirs = fit_random_slope(rows["stay_id"].to_numpy(), rows["y"], x, x[:, :2])
        assert np.allclose(one.fit.beta, theirs.beta, rtol=1e-9, atol=1e-9)
        assert np.allclose(one.fit.effects, theirs.effects, rtol=1e-7, atol=1e-8)
        assert one.fit.sigma == pytest.approx(theirs.sigma, rel=1e-9)
        assert one.fit.criterion == pytest.approx(theirs.criterion, rel=1e-9)
        assert one.fit.robust_cov() == pytest.approx(theirs.robust_cov(), rel=1e-6, abs=1e-12)
        assert list(one.fit.index) == list(theirs.index)


def test_sums_of_odd_trials_are_those_that_pandas_adds_up() -> None:
    frame = odd_values(5)
    rows = sessions_of(frame)
    assert (rows["t"] + 0.0 < 0.0).any() and (rows.groupby(["measure", "stay_id"]).size() == 1).any()
    for (left, right), name in {
        ("one", "one"): "n", ("one", "t"): "st", ("one", "i"): "si", ("one", "y"): "sy", ("t", "t"): "stt",
        ("t", "i"): "sti", ("t", "y"): "sty", ("i", "i"): "sii", ("i", "y"): "siy", ("y", "y"): "syy",
    }.items():  # fmt: skip
        wide = rows.assign(one=1.0)
        theirs = (wide[left] * wide[right]).groupby([rows[k] for k in ("measure", "line", "stay_id")]).sum()
        ours = sums_by_duckdb(frame).set_index(["measure", "line", "stay_id"])[name]
        assert list(ours.index) == list(theirs.index)
        assert np.allclose(ours, theirs, rtol=1e-9, atol=1e-9), name


def test_products_give_the_same_sums_as_rows() -> None:
    rng = np.random.default_rng(4)
    groups = np.repeat([f"g{k}" for k in range(7)], 5)
    x = np.column_stack([np.ones(35), rng.normal(size=35), rng.normal(size=35)])
    y = rng.normal(size=35)
    full = np.column_stack([x, y])
    products = np.array([full[groups == g].T @ full[groups == g] for g in np.unique(groups)])
    ours, theirs = sums_of_products(list(np.unique(groups)), products, 2), group_sums(groups, y, x, x[:, :2])
    assert np.allclose(ours.zz, theirs.zz)
    for name in ("n", "zy"):
        assert np.allclose(getattr(ours, name), getattr(theirs, name), atol=1e-12), name
    # the sign of a column of Q is free: compare in the columns X came with
    assert np.allclose(ours.zx @ ours.basis, theirs.zx @ theirs.basis)
    assert np.allclose(ours.offset, theirs.offset)


def test_lines_are_left_out_by_the_rules_of_the_main_path() -> None:
    frame = trial_values(30, 6, seed=2)
    assert fits_of(frame)[0].intake_term
    assert not fits_of(frame.assign(is_intake=False))[0].intake_term
    twice = frame[frame.groupby("stay_id")["day"].rank(method="dense") <= 2]
    assert not fits_of(twice)[0].intake_term
    assert fits_of(frame[frame["is_intake"]].assign(weeks=0.0)) == ()
    assert fits_of(frame[frame["stay_id"] < "A000007@K"]) == ()
    assert fits_of(frame.assign(value=70.0)) == ()
