"""Is the trend real, and how large is it: the own-line test and the pulled size against planted change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from latewood.pipeline.stats.change.reliability import measurement_errors
from latewood.pipeline.stats.change.trend import trends
from latewood.pipeline.stats.engine.mixed import fit_random_slope
from tests.calibration.outcome import Claim, Estimate, Study, mean_of, share_of
from tests.calibration.varied import (
    BASE,
    BOTH,
    CARRIED,
    FEW,
    HEAVY,
    IRREGULAR,
    LOWER,
    MANY,
    MEASURES,
    NOBODY,
    TRAVEL,
    UNEQUAL,
    Variant,
    as_frame,
    draw,
    noise_sd,
    own_line_change,
    places,
    seeded,
)
from tests.camps import Camp

TREND_SEED, LOOK_SEED, SIZE_SEED = 7101, 7102, 7103
VARIANTS = tuple(
    replace(v, still=v.still or 0.2)
    for v in (BASE, NOBODY, LOWER, HEAVY, FEW, IRREGULAR, TRAVEL, UNEQUAL, CARRIED, BOTH)
)
FEW_STILL = replace(NOBODY, name="nobody changes, 15 athletes", options={"n": 15})
HEAVY_STILL = replace(NOBODY, name="nobody changes, heavy-tailed noise (t3)", heavy_tails=True)
HALF = replace(BASE, name="half of the camp does not change", still=0.5)
LOOKED_AT = ((NOBODY, 20), (HALF, 16), (FEW_STILL, 30), (HEAVY_STILL, 10))
IN_FULL = (UNEQUAL.name, CARRIED.name, "base", "nobody changes", "15 athletes")  # the others get fewer camps


def told(camp: Camp, sessions: pd.DataFrame, day: pd.Timestamp | None = None) -> pd.DataFrame:
    """The trends of these sessions; `day` is what is today, where the camp still runs."""
    errors = measurement_errors(sessions, MEASURES)
    stays = camp.stays
    if day is not None:
        stays = stays.assign(left_on=pd.to_datetime(stays["left_on"]).where(lambda left: left <= day))
    return as_frame(trends(sessions, MEASURES, errors, stays))


def with_truth(camp: Camp, found: pd.DataFrame) -> pd.DataFrame:
    """The trends with the planted change over their span, and the own line through the planted values."""
    found = found[found["change"].notna() & found["low"].notna()].reset_index(drop=True)
    row = pd.Index(camp.truth["stay_id"]).get_indexer(found["stay_id"])
    arrival = pd.to_datetime(camp.truth["arrival"]).to_numpy()[row]
    last = ((pd.to_datetime(found["last_on"]).to_numpy() - arrival) / np.timedelta64(1, "D")).astype(int)
    first = last - np.rint(7 * found["weeks"].to_numpy(dtype=float)).astype(int)
    truth = camp.ability[row, last] - camp.ability[row, first]
    who, day = places(camp, camp.session_values)
    at = pd.Index(found["stay_id"]).get_indexer(camp.session_values["stay_id"])
    observed = (at >= 0) & (day >= first[at])
    line = own_line_change(at[observed], day[observed] / 7.0, camp.ability[who, day][observed], len(found))
    still = camp.truth["still"].to_numpy()[row] if "still" in camp.truth else np.zeros(len(found), bool)
    noise = camp.truth["noise"].to_numpy()[row] if "noise" in camp.truth else np.ones(len(found))
    return found.assign(truth=truth, line_truth=line, still=still, noise=noise)


def held(table: pd.DataFrame, low: str, high: str, truth: str) -> pd.Series:
    return (table[low].astype(float) <= table[truth]) & (table[truth] <= table[high].astype(float))


def record(study: int, at: int, variant: Variant, camps: int) -> pd.DataFrame:
    parts = []
    for k in range(camps):
        camp = draw(seeded(study, at, k), variant)
        parts.append(with_truth(camp, told(camp, camp.session_values)).assign(camp=k))
    return pd.concat(parts, ignore_index=True)


def run_trend(size: float, variants: Sequence[Variant] = VARIANTS) -> Study:
    rows, claims = [], []
    for at, variant in enumerate(variants):
        camps = max(8, round((200 if variant.name in IN_FULL else 60) * size))
        table = record(TREND_SEED, at, variant, camps)
        judged = table[table["n_sessions"] >= 4]
        still, moved = judged[judged["still"]], judged[~judged["still"]]
        error = (table["change"].astype(float) - table["truth"]) / variant.unit
        width = (table["high"].astype(float) - table["low"].astype(float)) / variant.unit
        coverage = share_of(held(table, "low", "high", "truth"), table["camp"])
        line = share_of(held(table, "low", "high", "line_truth"), table["camp"])
        false = share_of(still["verdict"].str.startswith("clear"), still["camp"])
        false_gain = share_of(still["verdict"] == "clear gain", still["camp"])
        power = share_of(moved["verdict"] == "clear gain", moved["camp"])
        bias, span = mean_of(error, table["camp"]), mean_of(width, table["camp"])
        rows.append([
            f"{variant.name} ({variant.unit_name})",
            f"{camps} / {len(table)}",
            coverage.text(),
            line.text(),
            bias.text(),
            span.text(),
            false_gain.text(),
            false.text(),
            power.text(),
        ])
        name = variant.name
        claims += [
            Claim(
                key=f"trend coverage: {name}",
                text=f"95 % interval of the change holds the planted change .93 to .97 ({name})",
                found=coverage,
                low=0.93,
                high=0.97,
            ),
            *_noisiest(table, name),
            Claim(
                key=f"trend false gain: {name}",
                text=f"unchanged athletes told 'clear gain' at most 5 % ({name})",
                found=false_gain,
                high=0.05,
            ),
        ]
    return Study(
        name="trend",
        question="Is one athlete's change real? One look at the end of the stay",
        about="Stays of 4 to 40 weeks, tested every 10 to 24 days; a fifth of the athletes do not change "
        "(all of them in 'nobody changes'). Change from first to last session by the own line of `trends`, "
        "against the planted change between the same two days, and against the line through the planted "
        "values (what a straight line can see of a bent course).",
        seeds=f"({TREND_SEED}, variant 0–{len(variants) - 1}, camp 0…)",
        columns=(
            "variant",
            "camps / stays",
            "coverage",
            "coverage of the planted line",
            "bias",
            "width",
            "unchanged: 'clear gain'",
            "unchanged: any 'clear'",
            "changed: 'clear gain'",
        ),
        rows=rows,
        claims=claims,
        notes=("False flags and power count stays of four sessions or more; coverage counts all with two.",),
    )


THIRDS = {"quietest": 0.93, "middle": 0.93, "noisiest": 0.90}  # what the interval holds at least


def _noisiest(table: pd.DataFrame, name: str) -> list[Claim]:
    """What the interval holds in each third of the athletes by their noise, where that differs."""
    if table["noise"].nunique() < 3:
        return []
    third = pd.qcut(table["noise"], 3, labels=list(THIRDS))
    hit = held(table, "low", "high", "truth")
    return [
        Claim(
            key=f"trend coverage, {which} third: {name}",
            text=f"95 % interval of the change holds the planted change at least {low} ({name}; {which} third)",
            found=share_of(hit[third == which], table.loc[third == which, "camp"]),
            low=low,
        )
        for which, low in THIRDS.items()
    ]


def _looks(camp: Camp) -> pd.DataFrame:
    """For each unchanged athlete with four sessions: ever told 'clear' when looked at every two weeks."""
    values = camp.session_values
    held_on = pd.to_datetime(values["held_on"])
    days = pd.date_range(
        held_on.min() + pd.Timedelta(days=28), held_on.max() + pd.Timedelta(days=14), freq="14D"
    )
    observed = [told(camp, values[held_on <= day], day)[["stay_id", "n_sessions", "verdict"]] for day in days]
    table = pd.concat(observed, ignore_index=True)
    table["clear"] = table["verdict"].str.startswith("clear")
    table["gain"] = table["verdict"] == "clear gain"
    ever = table.groupby("stay_id").agg(n=("n_sessions", "max"), clear=("clear", "any"), gain=("gain", "any"))
    still = camp.truth.set_index("stay_id")["still"].reindex(ever.index).astype(bool)
    return ever[still & (ever["n"] >= 4)].reset_index()


def run_looks(size: float, looked_at: Sequence[tuple[Variant, int]] = LOOKED_AT) -> Study:
    rows, claims = [], []
    for at, (variant, full) in enumerate(looked_at):
        camps = max(4, round(full * size))
        parts = [_looks(draw(seeded(LOOK_SEED, at, k), variant)).assign(camp=k) for k in range(camps)]
        table = pd.concat(parts, ignore_index=True)
        clear, gain = share_of(table["clear"], table["camp"]), share_of(table["gain"], table["camp"])
        cells = []
        for low, high in ((4, 7), (8, 11), (12, 99)):
            part = table[table["n"].between(low, high)]
            cells.append(share_of(part["gain"], part["camp"]).text())
        rows.append([variant.name, f"{camps} / {len(table)}", gain.text(), clear.text(), *cells])
        for key, what, result in (("looks", "clear gain", gain), ("looks, any", "clear", clear)):
            claims.append(
                Claim(
                    key=f"{key}: {variant.name}",
                    text=f"unchanged athletes ever told '{what}' over a stay at most 5 % ({variant.name})",
                    found=result,
                    high=0.05,
                )
            )
    return Study(
        name="looks",
        question="How often is an athlete who did not change ever told 'clear' when looked at every two weeks?",
        about="`trends` on what was known every 14 days, from the fourth week to the last exit.",
        seeds=f"({LOOK_SEED}, variant 0–{len(looked_at) - 1}, camp 0…)",
        columns=(
            "variant",
            "camps / stays",
            "ever 'clear gain'",
            "ever any 'clear'",
            "gain, 4–7 sessions",
            "gain, 8–11",
            "gain, 12 or more",
        ),
        rows=rows,
        claims=claims,
    )


CLEAR_SEED = 7104
SHORT = {"stay_weeks": (8, 14), "test_gap_days": (12, 16)}
ASKED = (
    (replace(NOBODY, name="one first day", options=SHORT), 40),
    (replace(NOBODY, name="tested twice at intake", options=SHORT | {"twice_at_intake": True}), 40),
    (replace(NOBODY, name="one first day, 15 athletes", options=SHORT | {"n": 15}), 60),
    (
        replace(
            UNEQUAL, name="one first day, noise differs", process=NOBODY.process, still=1.0, options=SHORT
        ),
        30,
    ),
)
TIMES = (0.0, 1.0, 2.0, 3.0)  # of a session's noise, over the whole stay


def _rising(rng: np.random.Generator, camp: Camp, noise: float) -> tuple[Camp, np.ndarray]:
    """The camp with a steady change of 0, 1, 2 or 3 times the noise over each stay, and which."""
    times = rng.choice(TIMES, len(camp.truth))
    values = camp.session_values.copy()
    row, day = places(camp, values)
    last = pd.Series(day).groupby(row).max().reindex(range(len(times)), fill_value=1).to_numpy()
    values["value"] += noise * times[row] * day / last[row]
    return replace(camp, session_values=values), times


def _called(camp: Camp, times: np.ndarray) -> pd.DataFrame:
    """Each stay of four sessions or more: what was said at the end, and at any look after a session before."""
    values = camp.session_values.sort_values("held_on")
    order = values.groupby("stay_id").cumcount() + 1
    most = values.groupby("stay_id").size()
    looks = []
    for k in range(4, int(most.max()) + 1):
        going = camp.stays["stay_id"].map(most).fillna(0) > k
        stays = camp.stays.assign(left_on=pd.to_datetime(camp.stays["left_on"]).mask(going))
        seen = values[order <= k]
        errors = measurement_errors(seen, MEASURES)
        looks.append(as_frame(trends(seen, MEASURES, errors, stays))[["stay_id", "n_sessions", "verdict"]])
    table = pd.concat(looks, ignore_index=True)
    table["any"], table["gain"] = table["verdict"].str.startswith("clear"), table["verdict"] == "clear gain"
    ever = table.groupby("stay_id").agg(n=("n_sessions", "max"), any=("any", "any"), gain=("gain", "any"))
    ever["at end"] = table.groupby("stay_id")["gain"].last()
    ever["times"] = times[pd.Index(camp.truth["stay_id"]).get_indexer(ever.index)]
    return ever[ever["n"] >= 4].reset_index()


def run_clear(size: float, asked: Sequence[tuple[Variant, int]] = ASKED) -> Study:
    """How large a change must be to be called clear by the end of a stay, and how often nothing is called so."""
    rows, claims = [], []
    for at, (variant, full) in enumerate(asked):
        parts = []
        for k in range(max(6, round(full * size))):
            rng = seeded(CLEAR_SEED, at, k)
            camp, times = _rising(rng, draw(rng, variant), noise_sd(variant.process))
            parts.append(_called(camp, times).assign(camp=k))
        table = pd.concat(parts, ignore_index=True)
        still = table[table["times"] == 0.0]
        false = share_of(still["any"], still["camp"])
        by_size = [
            share_of(one["gain"], one["camp"]) for _, one in table[table["times"] > 0.0].groupby("times")
        ]
        large = table[table["times"] == TIMES[-1]]
        at_end = share_of(large["at end"], large["camp"])
        low = 0.55 if variant.options.get("twice_at_intake") else 0.45
        cells = [one.text() for one in (*by_size, at_end, false)]
        rows.append([variant.name, f"{len(parts)} / {len(table)}", f"{table['n'].mean():.1f}", *cells])
        claims += [
            Claim(
                key=f"clear at 3: {variant.name}",
                text=f"three times the noise called a clear gain by the end, at least {low} ({variant.name})",
                found=by_size[-1],
                low=low,
            ),
            Claim(
                key=f"clear, none: {variant.name}",
                text=f"no change ever called clear over a stay, at most 5 % of stays ({variant.name})",
                found=false,
                high=0.05,
            ),
        ]
    return Study(
        name="clear",
        question="How large must a change be to be called clear by the end of a stay?",
        about="Stays of 8 to 14 weeks with a test about every two; a steady change of 0, 1, 2 or 3 times the noise of "
        "one session over the stay. `trends` after every session from the fourth on, with the sessions planned.",
        seeds=f"({CLEAR_SEED}, variant 0–{len(asked) - 1}, camp 0…)",
        columns=(
            "variant",
            "camps / stays",
            "sessions a stay",
            "1 ×: 'clear gain' by the end",
            "2 ×",
            "3 ×",
            "3 ×, at the end",
            "no change: ever any 'clear'",
        ),
        rows=rows,
        claims=claims,
    )


SIZED_CAMPS = {"15 athletes": 200, "base": 80}
SIZED = (FEW, BASE, MANY, replace(LOWER, options={"n": 15}), replace(HEAVY, options={"n": 15}), NOBODY)


def _by_fit(camp: Camp, found: pd.DataFrame, penalised: bool) -> np.ndarray:
    """Whether the plugged-in interval of each gain in log time holds the planted change."""
    d = camp.session_values
    time = np.log1p(d["weeks"].to_numpy(dtype=float) / 3.0)
    first = d["is_intake"].to_numpy() & ~d["stay_id"].duplicated().to_numpy()
    X = np.column_stack([np.ones_like(time), time, first])
    fit = fit_random_slope(d["stay_id"].to_numpy(), d["value"].to_numpy(), X, X[:, :2], penalised=penalised)
    row = pd.Index(camp.truth["stay_id"]).get_indexer(found["stay_id"])
    arrival = pd.to_datetime(camp.truth["arrival"]).to_numpy()[row]
    end = (pd.to_datetime(found["last_on"]).to_numpy() - arrival) / np.timedelta64(7, "D")
    start = end - found["weeks"].to_numpy(dtype=float)
    span = np.log1p(end / 3.0) - np.log1p(np.maximum(start, 0.0) / 3.0)
    none = np.zeros_like(span)
    mean, variance = fit.predict_many(
        list(found["stay_id"]), np.column_stack([none, span, none]), np.column_stack([none, span])
    )
    return np.abs(mean - found["truth"].to_numpy()) <= 1.959964 * np.sqrt(variance)


def run_size(size: float, variants: Sequence[Variant] = SIZED) -> Study:
    rows, claims = [], []
    for at, variant in enumerate(variants):
        parts = []
        for k in range(max(8, round(SIZED_CAMPS.get(variant.name, 40) * size))):
            camp = draw(seeded(SIZE_SEED, at, k), variant)
            result = with_truth(camp, told(camp, camp.session_values))
            result = result[result["sized_low"].notna()].reset_index(drop=True)
            plain, kept = _by_fit(camp, result, False), _by_fit(camp, result, True)
            parts.append(result.assign(camp=k, plain=plain, penalised=kept))
        table = pd.concat(parts, ignore_index=True)
        hit = share_of(held(table, "sized_low", "sized_high", "truth"), table["camp"])
        plain, kept = share_of(table["plain"], table["camp"]), share_of(table["penalised"], table["camp"])
        error = (table["sized_change"].astype(float) - table["truth"]) / variant.unit
        own = (table["change"].astype(float) - table["truth"]) / variant.unit
        name = variant.name + (", 15 athletes" if variant.options == {"n": 15} and variant is not FEW else "")
        parted = _by_change(table, noise_sd(variant.process))
        rows.append([
            f"{name} ({variant.unit_name})",
            f"{len(parts)} / {len(table)}",
            hit.text(),
            *(one.text() for one in parted),
            kept.text(),
            plain.text(),
            mean_of(error, table["camp"]).text(),
            f"{np.sqrt(np.mean(error**2)):.3f} / {np.sqrt(np.mean(own**2)):.3f}",
        ])
        claims += _size_claims(variant, name, hit, kept, plain)
        if parted[1].n:
            text = f"size: changes of 2 to 3 times the noise held at least .92 ({name})"
            claims.append(Claim(key=f"size at 2 to 3: {name}", text=text, found=parted[1], low=0.92))
    return Study(
        name="size",
        question="How large is the change? The size pulled towards the camp",
        about="The interval of `sized_change` of `trends` (averaged over the variances below 80 athletes), "
        "and for comparison log time with variances plugged in, penalised and plain.",
        seeds=f"({SIZE_SEED}, variant 0–{len(variants) - 1}, camp 0…)",
        columns=(
            "variant",
            "camps / stays",
            "coverage, as shipped",
            "changes under the noise of a session",
            "of 2 to 3 times",
            "2 or 3 sessions",
            "penalised, plugged in",
            "plain REML",
            "bias",
            "error of size / of own line",
        ),
        rows=rows,
        claims=claims,
    )


def _by_change(table: pd.DataFrame, noise: float) -> list[Estimate]:
    """Coverage of the size by the true change in noise of a session (under 1, 2 to 3), and of stays tested rarely."""
    times = table["truth"].abs() / noise
    hit = held(table, "sized_low", "sized_high", "truth")
    chosen = (times < 1.0, times.between(2.0, 3.0), table["n_sessions"] <= 3)
    return [share_of(hit[part], table.loc[part, "camp"]) for part in chosen]


def _size_claims(variant: Variant, name: str, hit, kept, plain) -> list[Claim]:
    if variant is FEW:
        requested = [("as shipped at least .91", hit, 0.91, 1), ("penalised at least .89", kept, 0.89, 1)]
        requested.append(("plain REML below .87, why it is not shipped", plain, 0.0, 0.87))
    elif variant is MANY:
        requested = [("as shipped .92 to .97", hit, 0.92, 0.97)]
    else:
        requested = [("as shipped at least .91", hit, 0.91, 1.0)]
    return [
        Claim(key=f"size {text.split(' ')[0]}: {name}", text=f"size: {text} ({name})", found=e, low=a, high=b)
        for text, e, a, b in requested
    ]
