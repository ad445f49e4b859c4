"""Mass links of several camps: the mean per kg over camps, the spread between them, and one more camp."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from latewood.pipeline.stats.links.link_camps import link_spreads
from latewood.pipeline.stats.links.mass_link import mass_links
from tests.calibration.outcome import Claim, Estimate, Study, mean_of, share_of
from tests.calibration.varied import BASE, MEASURES, draw, places, seeded
from tests.camps import EXIT_SPEED, MPH, STRENGTH, Camp, join_camps

SEED = 7126  # judged on; developed on (991, …) to (996, …) and (7125, …)


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """Programs of so many camps whose true values per kg differ by an SD of `spread`, mph per kg.

    `own` is the SD of what one athlete gains per kg beside the others; `returning`: the same athletes in all camps.
    """

    name: str
    n_camps: int
    spread: float
    athletes: tuple[int, int] = (70, 90)
    own: float = 0.0
    returning: bool = False
    programs: int = 100


CASES = (
    Case(name="3 camps, alike", n_camps=3, spread=0.0, programs=150),
    Case(name="3 camps, SD 0.1", n_camps=3, spread=0.1, programs=150),
    Case(name="6 camps, alike", n_camps=6, spread=0.0, programs=80),
    Case(name="6 camps, SD 0.1", n_camps=6, spread=0.1, programs=80),
    Case(name="4 camps of the same 80 athletes, each with a slope of their own (SD 0.5)",
         n_camps=4, spread=0.0, athletes=(80, 80), own=0.5, returning=True),
)  # fmt: skip


def program_of(rng: np.random.Generator, case: Case) -> tuple[Camp, float]:
    """One program, and the true value per kg (mph) of one more camp of the kind."""
    true = rng.normal(0.0, case.spread, case.n_camps + 1)
    camps = []
    for k in range(case.n_camps):
        process = replace(EXIT_SPEED, per_kg=EXIT_SPEED.per_kg + true[k] * MPH)
        n = int(rng.integers(case.athletes[0], case.athletes[1] + 1))
        camps.append(draw(rng, replace(BASE, process=process), n=n, camp_id=f"C{k}", restarts=True))
    full = join_camps(*camps)
    if case.returning:
        full = _returning(full, rng.normal(0.0, case.own * MPH, case.athletes[1]))
    return full, EXIT_SPEED.total_per_kg / MPH + true[-1]


def _returning(program: Camp, own: np.ndarray) -> Camp:
    """The program with the athletes of its camps made the same people, who answer to mass each in their own way."""
    sessions = program.session_values.copy()
    row, day = places(program, sessions)
    number = program.truth["athlete_id"].str.split("-A").str[1].astype(int).to_numpy()[row]
    added = program.mass[row, day] - program.mass[row, 0]
    sessions["value"] += own[number] * added
    named = {"session_values": sessions, "people": program.people, "mass_trend": program.mass_trend}
    frames = {
        name: frame.assign(athlete_id=frame["athlete_id"].str.split("-").str[1])
        for name, frame in named.items()
        if "athlete_id" in frame
    }
    frames["people"] = frames["people"].drop_duplicates("athlete_id", ignore_index=True)
    return replace(program, **frames)


def of_case(at: int, case: Case, programs: int) -> pd.DataFrame:
    """Per program: the pooled mean and its interval, spread, new camp, and the link of all athletes together."""
    rows, true = [], EXIT_SPEED.total_per_kg / MPH
    for k in range(programs):
        program, new = program_of(seeded(SEED, at, k), case)
        frames = (program.session_values, program.mass_trend, program.people, MEASURES)
        links = mass_links(*frames, STRENGTH)
        (one,) = (x for x in links if x.scope == "program" and x.adjustment == "time")
        (words,) = link_spreads(*frames, links)
        if words.mean is None or one.per_kg is None:
            continue
        mean, low, high = (v / MPH for v in (words.mean, words.mean_low, words.mean_high))
        rows.append({
            "program": k, "error": mean - true, "held": low <= true <= high, "width": high - low,
            "spread": words.spread_low / MPH <= case.spread <= words.spread_high / MPH,
            "next": words.next_low / MPH <= new <= words.next_high / MPH,
            "next_width": (words.next_high - words.next_low) / MPH,
            "one_held": one.low / MPH <= true <= one.high / MPH, "one_width": (one.high - one.low) / MPH,
            "camps": words.n_camps,
        })  # fmt: skip
    return pd.DataFrame(rows)


def run_link_camps(size: float, cases: Sequence[Case] = CASES) -> Study:
    rows, claims = [], []
    for at, case in enumerate(cases):
        programs = max(8, round(case.programs * size))
        table = of_case(at, case, programs)
        each = table["program"]
        bias, held = mean_of(table["error"], each), share_of(table["held"], each)
        spread, new = share_of(table["spread"], each), share_of(table["next"], each)
        one = share_of(table["one_held"], each)
        rows.append([
            case.name, f"{programs} / {programs - len(table)} / {table['camps'].mean():.1f}", bias.text(), held.text(),
            f"{table['width'].median():.2f}", spread.text(), new.text(), f"{table['next_width'].median():.2f}",
            one.text(), f"{table['one_width'].median():.2f}",
        ])  # fmt: skip
        claims += _claims(case, bias, held, spread, new)
    return Study(
        name="link_camps",
        question="What goes with a kilogram in the mean over camps, and how much do camps differ in it?",
        about="`link_spreads` of programs of 70 to 90 athletes a camp who hold and restart, planted mean .27 mph "
        "per kg. Beside it the link of all athletes together (`mass_links`, scope program), whose interval is about "
        "these camps, held against the same mean over camps of the kind.",
        seeds=f"({SEED}, case 0–{len(cases) - 1}, program 0…); developed on (991, …) to (996, …) and (7125, …)",
        columns=(
            "case", "programs / refused / camps pooled", "bias", "mean: coverage", "median width",
            "spread: coverage", "new camp: coverage", "median width", "all athletes together: coverage", "median width",
        ),
        rows=rows,
        claims=claims,
        notes=("With three camps the mean's interval is t on two degrees of freedom: wide, and by chance sometimes "
               "narrow. Widths of new camps include what is not known of the spread.",),
    )  # fmt: skip


def _claims(case: Case, bias: Estimate, held: Estimate, spread: Estimate, new: Estimate) -> list[Claim]:
    name = case.name
    requested = [
        ("mean", f"mean over camps: coverage .92 to .98 ({name})", held, 0.92, 0.98),
        ("bias", f"mean over camps: bias within .03 ({name})", bias, -0.03, 0.03),
    ]
    if not case.returning:
        requested += [
            ("spread", f"spread between camps: its interval holds at least .93 ({name})", spread, 0.93, 1.0),
            ("next", f"one more camp: coverage at least .92 ({name})", new, 0.92, 1.0),
        ]
    return [
        Claim(key=f"link camps {key}: {name}", text=text, found=result, low=low, high=high)
        for key, text, result, low, high in requested
    ]
