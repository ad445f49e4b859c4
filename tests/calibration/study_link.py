"""Mass to output: the planted effect of one's own kilogram, the wrong answers, and what is unexplained."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from latewood.pipeline.stats.change.trend import trends
from latewood.pipeline.stats.links.link_athletes import athlete_links
from latewood.pipeline.stats.links.mass_link import mass_links
from latewood.pipeline.stats.links.results import MassLink
from latewood.pipeline.stats.plans.weighin import mass_trends
from tests.calibration.outcome import Claim, Study, mean_of, share_of
from tests.calibration.varied import (
    BASE,
    HEAVY,
    IRREGULAR,
    MEASURES,
    TRAVEL,
    Variant,
    draw,
    own_line_change,
    places,
    seeded,
)
from tests.camps import MPH, NO_EFFECT, OPPOSITE_SIGNS, SPRINT, STRENGTH, Camp, join_camps

LINK_SEED = 7121
ZERO = Variant(name="no effect of own mass", process=NO_EFFECT)
OPPOSITE = Variant(name="opposite signs: own −.30, between athletes positive", process=OPPOSITE_SIGNS)
LOWER = Variant(name="lower is better (60-yard time, s)", process=SPRINT)
FILTERED = Variant(
    name="mass from weigh-ins with 1 % unit slips", options={"weigh": True, "unit_slip_share": 0.01}
)
TWO = Variant(name="two camps of 60 in one program", options={"n": 60, "restarts": True})
STEADY = Variant(name="own rate: faster gainers improve faster, true slope 0; steady gain", process=NO_EFFECT)
OWN_RATE = Variant(
    name="own rate: faster gainers improve faster, true slope 0; holds and restarts",
    process=NO_EFFECT,
    options={"n": 80, "restarts": True},
)
OWN_RATES = (STEADY, OWN_RATE)
RATE_GAIN = 1.0 * MPH  # of output per SD of own rate and unit of log time
STRAIGHT = Variant(name="everybody gains in a straight line", options={"straight_line": True})
UNHELD = (STRAIGHT, STEADY)  # the other camps are of 80 athletes who hold and restart
VARIANTS = (BASE, ZERO, OPPOSITE, LOWER, HEAVY, IRREGULAR, TRAVEL, FILTERED, TWO, STRAIGHT, *OWN_RATES)
FULL = {
    BASE.name: 220,
    ZERO.name: 220,
    OWN_RATE.name: 220,
    STEADY.name: 135,
    FILTERED.name: 40,
    STRAIGHT.name: 40,
}
LEFT_OVER_EVERY = 4  # camps in which the athletes' own accounts are looked at


def _camp(at: int, variant: Variant, k: int) -> tuple[Camp, pd.DataFrame]:
    rng = seeded(LINK_SEED, at, k)
    held = {} if variant in UNHELD else {"n": 80, "restarts": True} | dict(variant.options)
    camp = draw(rng, variant, **held)
    if variant in OWN_RATES:
        camp = _with_own_rates(camp)
    if variant is TWO:
        camp = join_camps(camp, draw(rng, variant, camp_id="C2", **held))
    if variant is FILTERED:
        return camp, mass_trends(camp.weighins).trend
    return camp, camp.mass_trend


def _with_own_rates(camp: Camp) -> Camp:
    """The camp with outputs that rise faster in those who gain mass faster, for another reason than mass."""
    row, day = places(camp, camp.session_values)
    rate = camp.truth["rate"].to_numpy()
    gain = RATE_GAIN * ((rate - rate.mean()) / rate.std())[row] * np.log1p(day / 21.0)
    return replace(camp, session_values=camp.session_values.assign(value=camp.session_values["value"] + gain))


def _pick(found: tuple[MassLink, ...], adjustment: str) -> MassLink:
    (one,) = (k for k in found if k.adjustment == adjustment and k.scope == "program")
    return one


def _pooled(camp: Camp) -> float:
    """The wrong answer: all sessions of all athletes in one regression on mass."""
    row, day = places(camp, camp.session_values)
    x = np.column_stack([np.ones(len(row)), camp.mass[row, day]])
    return float(np.linalg.lstsq(x, camp.session_values["value"].to_numpy(), rcond=None)[0][1])


def _unexplained(camp: Camp, mass: pd.DataFrame, found: tuple[MassLink, ...], k: int) -> pd.DataFrame:
    """Whether 'unexplained' holds what was planted beyond the average effect of the athlete's mass."""
    sessions = camp.session_values
    rows = [
        r
        for r in athlete_links(sessions, mass, trends(sessions, MEASURES, ()), found)
        if r.verdict == "estimated"
    ]
    if not rows:
        return pd.DataFrame(columns=["camp", "held", "error", "width"])
    who, day = places(camp, sessions)
    rest = camp.ability[who, day] - camp.process.total_per_kg * camp.mass[who, day]
    at = pd.Index([r.stay_id for r in rows]).get_indexer(sessions["stay_id"])
    observed = at >= 0
    truth = own_line_change(at[observed], day[observed] / 7.0, rest[observed], len(rows))
    low, high, left = (np.array([getattr(r, f"left_over{e}") for r in rows]) for e in ("_low", "_high", ""))
    return pd.DataFrame({
        "camp": k,
        "held": (low <= truth) & (truth <= high),
        "error": left - truth,
        "width": high - low,
    })


def _record(at: int, variant: Variant, camps: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    result, rest = [], []
    for k in range(camps):
        camp, mass = _camp(at, variant, k)
        links = mass_links(camp.session_values, mass, camp.people, MEASURES, STRENGTH)
        words, naive = _pick(links, "time"), _pick(links, "none")
        given = words.per_kg is not None
        numbers = (words.per_kg, words.low, words.high) if given else (np.nan,) * 3
        wrong = (np.nan if naive.per_kg is None else naive.per_kg, _pooled(camp))
        result.append((k, given, *numbers, *wrong, words.inflation or np.nan))
        if given and k % LEFT_OVER_EVERY == 0:
            rest.append(_unexplained(camp, mass, links, k))
    names = ["camp", "given", "per_kg", "low", "high", "no time", "pooled", "inflation"]
    left = (
        pd.concat(rest, ignore_index=True)
        if rest
        else pd.DataFrame(columns=["camp", "held", "error", "width"])
    )
    return pd.DataFrame(result, columns=names), left


def run_link(size: float, variants: Sequence[Variant] = VARIANTS) -> Study:
    rows, claims = [], []
    for at, variant in enumerate(variants):
        camps = max(10, round(FULL.get(variant.name, 60) * size))
        table, left = _record(at, variant, camps)
        true, unit = variant.process.total_per_kg / variant.unit, variant.unit
        given = table[table["given"]]
        words = given[["per_kg", "low", "high", "no time", "pooled"]] / unit
        bias = mean_of(words["per_kg"] - true, given["camp"])
        hit = share_of((words["low"] <= true) & (true <= words["high"]), given["camp"])
        clear = ((words["low"] > 0) | (words["high"] < 0)).reindex(table.index, fill_value=False)
        sure = (
            share_of(clear, table["camp"])
            if variant in OWN_RATES
            else share_of(clear[given.index], given["camp"])
        )
        beyond = share_of(left["held"], left["camp"])
        digits = 4 if unit == 1.0 else 3
        rows.append([
            variant.name,
            f"{camps} / {camps - len(given)}",
            f"{true:.{digits}f}",
            bias.text(digits),
            hit.text(),
            mean_of(words["high"] - words["low"], given["camp"]).text(digits),
            sure.text(),
            f"{words['no time'].mean():.{digits}f} / {words['pooled'].mean():.{digits}f}"
            if len(given)
            else "–",
            beyond.text() if len(left) else "–",
        ])
        pooled = mean_of(words["pooled"], given["camp"])
        refused = share_of(~table["given"], table["camp"])
        claims += _claims(variant, bias, hit, sure, pooled, beyond, refused)
    return Study(
        name="link",
        question="What goes with a kilogram of added mass, and what of an athlete's change is unexplained?",
        about="`mass_links` off each athlete's own line, camps of 80 who hold and restart unless "
        "stated; mph per kg; on the smoothed mass of an ideal smoother, "
        "of the project's own filter where stated; `athlete_links` in every fourth camp: whether 'unexplained' "
        "holds the own line through what was planted beyond the average effect of the athlete's mass.",
        seeds=f"({LINK_SEED}, variant 0–{len(variants) - 1}, camp 0…)",
        columns=(
            "variant",
            "camps / refused",
            "planted",
            "bias",
            "coverage",
            "width",
            "clear of zero",
            "wrong ways: time left out / pooled",
            "unexplained: coverage",
        ),
        rows=rows,
        claims=claims,
        notes=(
            "'Told from zero' is power where there is an effect, and the false-alarm rate in 'no effect'. Bias "
            "and coverage are over the camps that were not refused.",
        ),
    )


def _claims(variant: Variant, bias, hit, sure, pooled, beyond, refused) -> list[Claim]:
    name = variant.name
    if variant is STRAIGHT:
        return [
            Claim(
                key="link straight line",
                text="camps that gain in a straight line are refused",
                found=refused,
                low=1.0,
            )
        ]
    if variant in OWN_RATES:
        return [
            Claim(
                key=f"link false: {name}",
                text="a link that is not there is clear of zero in at most 7 % of all camps, refused ones counted",
                found=sure,
                high=0.07,
            )
        ]
    wide = 0.03 * (abs(SPRINT.total_per_kg) / 0.27 if variant is LOWER else 1.0)
    result = [
        Claim(
            key=f"link coverage: {name}",
            text=f"link: coverage .92 to .98 ({name})",
            found=hit,
            low=0.92,
            high=0.98,
        ),
        Claim(
            key=f"link bias: {name}",
            text=f"link: bias within {wide:.3g} ({name})",
            found=bias,
            low=-wide,
            high=wide,
            decimals=4,
        ),
        Claim(
            key=f"unexplained: {name}",
            text=f"unexplained holds what was planted .92 to .98 ({name})",
            found=beyond,
            low=0.92,
            high=0.98,
        ),
    ]
    if variant is BASE:
        result.append(
            Claim(
                key="link pooled", text="pooled least squares above .5 (stays wrong)", found=pooled, low=0.5
            )
        )
    if variant is ZERO:
        result.append(
            Claim(key="link false", text="no effect clear of zero at most 5 %", found=sure, high=0.05)
        )
    return result
