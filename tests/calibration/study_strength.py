"""Strength to output: the planted effect of one's own kilogram of strength, and which of mass or strength is more."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from latewood.pipeline.stats.engine.session_lines import comparable_sessions
from latewood.pipeline.stats.links.link_design import carry, link_rows
from latewood.pipeline.stats.links.mass_link import mass_links
from latewood.pipeline.stats.links.strength_design import Prepared, fit_strength
from latewood.pipeline.stats.links.strength_link import strength_links
from latewood.pipeline.stats.links.strength_trend import fit_strength_trend
from tests.calibration.outcome import Claim, Study, mean_of, share_of
from tests.calibration.varied import MEASURES, seeded
from tests.camps import EXIT_SPEED, MPH, STRENGTH, Camp, Process, simulate_camp

STRENGTH_SEED = 7135
PLANTED = 0.04  # mph per kg of one-repetition maximum
ALONE = replace(EXIT_SPEED, per_kg=0.0, per_kg_sd=0.0, per_strength=PLANTED * MPH)


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A process, how many athletes, and the error of one strength test."""

    name: str
    process: Process
    n: int
    full: int
    test_sd: float = 4.0

    @property
    def planted(self) -> float:
        """mph per kg of strength at equal mass."""
        return self.process.per_strength / MPH


VARIANTS = (
    Case(name="base", process=ALONE, n=60, full=200),
    Case(name="168 athletes", process=ALONE, n=168, full=60),
    Case(name="20 athletes", process=ALONE, n=20, full=200),
    Case(name="no effect of strength", process=replace(ALONE, per_strength=0.0), n=60, full=200),
    Case(name="tests off by 8 kg", process=ALONE, n=60, full=100, test_sd=8.0),
    Case(name="mass .25 and strength .04", process=replace(ALONE, per_kg=0.25 * MPH), n=60, full=100),
)


def same_day(camp: Camp) -> float:
    """The wrong way: the same model on the test of the day, mph per kg."""
    inside = comparable_sessions(camp.session_values, MEASURES)
    tests = inside[inside["measure"] == STRENGTH].reset_index(drop=True)
    rows = inside[inside["measure"] != STRENGTH]
    near = carry(tests, rows, ("value",), day="held_on", within_days=28)[:, 0]
    known = np.isfinite(near)
    part = link_rows(
        rows[known].reset_index(drop=True), camp.mass_trend, camp.people, tests.iloc[:0], mass_needed=False
    )
    lifts = link_rows(tests, camp.mass_trend, camp.people, tests.iloc[:0])
    trend = fit_strength_trend(lifts, np.zeros(len(lifts.value)), with_mass=False)
    fit = fit_strength(Prepared(rows=part, strength=near[known], trend=trend, adjustment="time", form="log"))
    return np.nan if fit is None else float(fit.fit.beta[-1]) / MPH


def _record(at: int, case: Case, camps: int) -> pd.DataFrame:
    result = []
    for k in range(camps):
        camp = simulate_camp(
            seeded(STRENGTH_SEED, at, k),
            n=case.n,
            process=case.process,
            weigh=False,
            strength_test_sd=case.test_sd,
        )
        forms = mass_links(camp.session_values, camp.mass_trend, camp.people, MEASURES, STRENGTH)
        links, carried = strength_links(
            camp.session_values, camp.mass_trend, camp.people, MEASURES, STRENGTH, forms
        )
        alone, joint = links
        numbers = [
            np.nan if v is None else v / MPH for j in (alone, joint) for v in (j.per_kg, j.low, j.high)
        ]
        result.append((k, *numbers, same_day(camp), carried[0].verdict))
    names = ["camp", "alone", "low", "high", "joint", "joint low", "joint high", "same day", "carries"]
    return pd.DataFrame(result, columns=names)


def run_strength(size: float, variants: Sequence[Case] = VARIANTS) -> Study:
    rows, claims = [], []
    for at, case in enumerate(variants):
        camps = max(10, round(case.full * size))
        table = _record(at, case, camps)
        words, held = table[table["alone"].notna()], table[table["joint"].notna()]
        true = case.planted
        bias = mean_of(words["alone"] - true, words["camp"])
        hit = share_of((words["low"] <= true) & (true <= words["high"]), words["camp"])
        sure = share_of((words["low"] > 0) | (words["high"] < 0), words["camp"])
        joint_hit = share_of((held["joint low"] <= true) & (true <= held["joint high"]), held["camp"])
        joint_bias = mean_of(held["joint"] - true, held["camp"])
        raw = mean_of(words["same day"], words["camp"])
        verdicts = table["carries"].value_counts()
        rows.append([
            case.name,
            f"{camps} / {camps - len(words)} / {camps - len(held)}",
            f"{true:.3f}",
            bias.text(),
            hit.text(),
            mean_of(words["high"] - words["low"], words["camp"]).text(),
            sure.text(),
            raw.text(),
            joint_bias.text(),
            joint_hit.text(),
            f"{verdicts.get('mass', 0)} / {verdicts.get('strength', 0)} / {verdicts.get('is not known', 0)}",
        ])
        claims += _claims(case, bias, hit, sure, raw, joint_hit)
    return Study(
        name="strength",
        question="What goes with a kilogram of added strength, and is it more than what goes with mass?",
        about="`strength_links` at equal time (mph per kg of one-repetition maximum) on the fitted course of strength, "
        "and at equal mass ('joint'); beside it the same model on the test of the day. Strength is tested every "
        "3 to 6 weeks with an error of 4 kg unless stated. Where mass has an effect of its own, the number without "
        "mass holds it too: its bias is by design and no claim is made.",
        seeds=f"({STRENGTH_SEED}, variant 0–{len(variants) - 1}, camp 0…)",
        columns=(
            "variant",
            "camps / refused / joint refused",
            "planted",
            "bias",
            "coverage",
            "width",
            "clear of zero",
            "test of the day",
            "joint bias",
            "joint coverage",
            "mass / strength / not known",
        ),
        rows=rows,
        claims=claims,
    )


def _claims(case: Case, bias, hit, sure, raw, joint_hit) -> list[Claim]:
    name = case.name
    joint = Claim(
        key=f"strength joint coverage: {name}",
        text=f"strength at equal mass: coverage at least .92 ({name})",
        found=joint_hit,
        low=0.92,
    )
    if case.process.per_kg > 0.0:
        return [joint]
    result = [
        joint,
        Claim(
            key=f"strength coverage: {name}",
            text=f"strength: coverage .92 to .98 ({name})",
            found=hit,
            low=0.92,
            high=0.98,
        ),
        Claim(
            key=f"strength bias: {name}",
            text=f"strength: bias within .01 ({name})",
            found=bias,
            low=-0.01,
            high=0.01,
        ),
    ]
    if name == "base":
        text = "the test of the day loses a quarter or more (below .030)"
        result.append(Claim(key="strength same day", text=text, found=raw, high=0.03))
    if case.planted == 0.0:
        result.append(
            Claim(key="strength false", text="no effect clear of zero at most 5 %", found=sure, high=0.05)
        )
    return result
