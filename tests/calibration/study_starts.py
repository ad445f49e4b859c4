"""Plan starts drawn by lot: is what they tell of mass right, and does the power said beforehand come true?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from latewood.pipeline.stats.links.staggered import contrast, estimate_of
from latewood.pipeline.stats.links.staggered_design import StaggeredDesign, staggered_design
from tests.calibration.outcome import Claim, Study, mean_of, share_of
from tests.calibration.varied import seeded
from tests.drawn_camp import Truth, drawn_trial

SEED = 915_264
CAMPS = 400
TESTS = tuple(float(week) for week in range(0, 17, 2))


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """Camps of so many athletes whose plans begin in the weeks `starts`; `weak`: the starts hardly move mass."""

    name: str
    n: int = 48
    starts: tuple[float, ...] = (0.0, 8.0)
    truth: Truth = field(default_factory=Truth)
    weak: bool = False


CASES = (
    Case(name="48 athletes, 2 groups"),
    Case(name="48 athletes, 3 groups", starts=(0.0, 6.0, 12.0)),
    Case(name="24 athletes, 3 groups", n=24, starts=(0.0, 6.0, 12.0)),
    Case(name="144 athletes, 2 groups", n=144),
    Case(name="mass brings nothing", truth=Truth(per_kg=0.0)),
    Case(name="mass brings .80 mph per kg", truth=Truth(per_kg=0.8)),
    Case(name="mass brings nothing, who gains more improves more anyway", truth=Truth(per_kg=0.0, tied=1.5)),
    Case(name="heavy-tailed noise (t3)", truth=Truth(per_kg=0.8, tails=3.0)),
    Case(name="a fifth of tests missed", truth=Truth(per_kg=0.8, missing=0.2)),
    Case(name="plans add .06 kg a week only", truth=Truth(per_kg=0.8, gain=(0.06, 0.05)), weak=True),
)


def words_of_line(case: Case) -> StaggeredDesign:
    """What the design says with the scatter that is planted."""
    output, mass = case.truth.spreads()
    gain = case.truth.gain[0]
    return staggered_design(
        case.n, case.starts, TESTS, per_kg=case.truth.per_kg, kg_per_week=gain, output=output, mass=mass
    )


def outcome_of(at: int, case: Case, camps: int) -> pd.DataFrame:
    """One row a camp: given (the starts moved mass), error, whether the interval holds, clear of zero, width."""
    rows = []
    for k in range(camps):
        observed = contrast(drawn_trial(seeded(SEED, at, k), case.n, case.starts, TESTS, case.truth).usable())
        if observed is None:
            raise ValueError(f"{case.name}: starts and tests of this case tell nothing")
        one, true = estimate_of(observed), case.truth.per_kg
        given = bool(np.isfinite([one.low, one.high]).all())
        rows.append({
            "camp": k, "given": given, "error": one.per_kg - true, "held": one.low <= true <= one.high,
            "estimate_of": given and not one.low <= 0.0 <= one.high, "width": one.high - one.low,
        })  # fmt: skip
    return pd.DataFrame(rows)


def run_starts(size: float, cases: Sequence[Case] = CASES) -> Study:
    rows, claims = [], []
    for at, case in enumerate(CASES):
        if case not in cases:
            continue
        camps = max(20, round(CAMPS * size))
        text, table = words_of_line(case), outcome_of(at, case, camps)
        given = table[table["given"]]
        power, mass = share_of(table["estimate_of"], table["camp"]), share_of(table["given"], table["camp"])
        rows.append([
            case.name, f"{camps} / {camps - len(given)}", mean_of(given["error"], given["camp"]).text(),
            share_of(given["held"], given["camp"]).text(), share_of(table["held"], table["camp"]).text(),
            f"{given['width'].median():.2f}", "–" if text.width is None else f"{text.width:.2f}", power.text(),
            f"{text.power:.3f}", mass.text(), f"{text.mass_known:.3f}",
        ])  # fmt: skip
        claims += _claims(case, text, table)
    return Study(
        name="starts",
        question="Plan starts drawn by lot: what they tell of mass apart from time, and the power said beforehand",
        about="Camps of 16 weeks, tested every two; output and mass have own level and own slope, noise 1.1 mph, "
        "planted .25 mph per kg unless said; plans add .23 kg a week (SD .10). The build's functions (`contrast`, "
        "`estimate_of`) against what is planted; *said* is `staggered_design` with the scatter that is planted. "
        "*Refused*: the "
        "groups did not come to weigh clearly different; *all camps* counts the open interval of these as what it "
        "is.",
        seeds=f"({SEED}, case 0–{len(CASES) - 1}, camp 0…)",
        columns=(
            "case", "camps / refused", "bias", "coverage", "coverage, all camps", "median width", "width said",
            "clear of zero", "power said", "mass estimate_of", "said",
        ),
        rows=rows,
        claims=claims,
        notes=("Bias in mph per kg among camps that are not refused. A program learns its scatter from earlier camps; "
               "that error is not in these shares.",),
    )  # fmt: skip


def _claims(case: Case, said: StaggeredDesign, table: pd.DataFrame) -> list[Claim]:
    given, each = table[table["given"]], table["camp"]
    apart = mean_of(said.power - table["estimate_of"].astype(float), each)
    requested = [("all", "coverage of all camps .92 to .98", share_of(table["held"], each), 0.92, 0.98)]
    if not case.weak:
        bias, held = mean_of(given["error"], given["camp"]), share_of(given["held"], given["camp"])
        requested += [
            ("held", "coverage .92 to .98", held, 0.92, 0.98),
            ("bias", "bias within .05", bias, -0.05, 0.05),
        ]
    if case.truth.per_kg == 0.0:
        requested.append((
            "false",
            "clear of zero at most .05",
            share_of(table["estimate_of"], each),
            0.0,
            0.05,
        ))
    requested.append(("power", "power: said less came within .05", apart, -0.05, 0.05))
    return [
        Claim(
            key=f"starts {key}: {case.name}",
            text=f"drawn starts: {text} ({case.name})",
            found=result,
            low=low,
            high=high,
        )
        for key, text, result, low, high in requested
    ]
