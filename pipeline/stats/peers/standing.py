"""Where an athlete stands among athletes of similar age, height and mass, and who they are."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.stats.change.results import MeasurementError
from latewood.pipeline.stats.engine.session_lines import bridge_columns, with_bridges
from latewood.pipeline.stats.peers.build import with_build
from latewood.pipeline.stats.peers.results import PeerNeighbour, PeerStanding
from latewood.pipeline.stats.peers.weights import PoolStandings, percentile_among

FEWEST_PEERS: Final = 20
FEWEST_EFFECTIVE: Final = 10.0
CAUTION_DISTANCE: Final = 2.3
LEVEL: Final = 0.90
LATEST_DAYS: Final = 21  # sessions this close to the latest one speak for the same form
METHOD: Final = (
    "mean of the sessions of the latest 3 weeks; residuals of a quadratic mean in age, height and mass; "
    "Gaussian weights; Jeffreys interval, widened by the mean, {noise} and bridges"
)
NOISE, NO_NOISE = "the athlete's session noise", "not by the athlete's session noise (not known)"

STANDING_COLUMNS: Final = tuple(PeerStanding.__dataclass_fields__)
NEIGHBOUR_COLUMNS: Final = tuple(PeerNeighbour.__dataclass_fields__)


@dataclass(frozen=True, slots=True, kw_only=True)
class PeerTables:
    """The standings, and the nearest peers behind each of them."""

    standings: pd.DataFrame  # columns of results.PeerStanding
    neighbours: pd.DataFrame  # columns of results.PeerNeighbour, nearest first


def peer_standings(
    session_values: pd.DataFrame,
    people: pd.DataFrame,
    measures: Mapping[str, Measure],
    level: float = LEVEL,
    errors: Sequence[MeasurementError] = (),
) -> PeerTables:
    """Return each athlete's standing in each line by the latest sessions, and the nearest peers.

    The value is the mean of the sessions of the three weeks up to the latest one. The interval counts the
    noise of those sessions, by the typical error of the line in `errors` (the declared one without it), and
    the error of the offsets of bridges as far as athlete and peers were measured on different devices.

    `session_values` and `people` have the columns of their tables. Peers share measure, line, sport and sex;
    build is the height and mass measured nearest to the session, at most 60 days away. A percentile is
    refused with fewer than 20 peers or fewer than 10 effective ones. Ratings and build measures have none.
    """
    latest = with_build(latest_values(session_values, measures), session_values, people)
    latest["noise"] = session_noise(latest, measures, errors)
    standings: list[pd.DataFrame] = []
    neighbours: list[pd.DataFrame] = []
    for key, sport, sex, group in peer_groups(latest):
        rows = group.assign(reference=f"program; {sport}; {sex}")
        pool = rows[rows["reason"] == ""].reset_index(drop=True)
        standings.append(_refused(rows[rows["reason"] != ""], len(pool)))
        if len(pool) - 1 < FEWEST_PEERS:
            few = f"fewer than {FEWEST_PEERS} peers with a build on record"
            standings.append(_refused(pool.assign(reason=few), max(len(pool) - 1, 0)))
            continue
        build = pool[["age_years", "height_cm", "mass_kg"]].to_numpy(float)
        noise = pool["noise"].fillna(0.0).to_numpy(float)
        offsets = bridge_columns(pool["own_line"], pool["shift_se"])
        value = measures[key].gain(0.0, 1.0) * pool["value"].to_numpy(float)
        result = percentile_among(build, value, level, noise, offsets)
        standings.append(_shown(pool, result))
        neighbours.append(_nearest(pool, result))
    return PeerTables(
        standings=_table(standings, STANDING_COLUMNS, level),
        neighbours=_table(neighbours, NEIGHBOUR_COLUMNS, level),
    )


def latest_values(session_values: pd.DataFrame, measures: Mapping[str, Measure]) -> pd.DataFrame:
    """Return the mean of the latest sessions of each athlete in each line of a measure that has peers.

    `n_recent` sessions are in it; the day is that of the latest one. Sessions on another device than the
    latest one (`own_line`) are left out of the mean, so that one offset applies.
    """
    wanted = [key for key, one in measures.items() if one.kind == "number" and one.family != "build"]
    keep = session_values["measure"].isin(wanted) & session_values["value"].notna()
    frame = with_bridges(session_values.loc[keep])
    frame = frame[["athlete_id", "measure", "line", "held_on", "value", "session_id", "own_line", "shift_se"]]
    frame = frame.assign(held_on=pd.to_datetime(frame["held_on"]).dt.as_unit("s"))
    frame = frame.sort_values(["measure", "line", "athlete_id", "held_on", "session_id"], ignore_index=True)
    last = frame.groupby(["measure", "line", "athlete_id"], sort=False)[["held_on", "own_line"]].transform(
        "last"
    )
    near = frame["held_on"] >= last["held_on"] - pd.Timedelta(days=LATEST_DAYS)
    recent = frame[near & (frame["own_line"] == last["own_line"])]
    groups = recent.groupby(["measure", "line", "athlete_id"], sort=False)["value"]
    recent = recent.assign(value=groups.transform("mean"), n_recent=groups.transform("size"))
    return recent.drop_duplicates(["measure", "line", "athlete_id"], keep="last")


def session_noise(
    latest: pd.DataFrame, measures: Mapping[str, Measure], errors: Sequence[MeasurementError]
) -> pd.Series:
    """Return the SD of the noise of each mean of sessions; NaN where no typical error is known."""
    known = {(e.measure, e.line): e.typical_error for e in errors}
    lines = zip(latest["measure"], latest["line"], strict=True)
    error = [known.get((m, line), measures[m].typical_error) for m, line in lines]
    single = np.array(error, dtype=float)
    return pd.Series(single / np.sqrt(latest["n_recent"].to_numpy(dtype=float)), index=latest.index)


def peer_groups(latest: pd.DataFrame) -> Iterator[tuple[str, str, str, pd.DataFrame]]:
    """Yield measure, sport, sex and the rows of each line, in order."""
    for key, group in latest.groupby(["measure", "line", "sport", "sex"], sort=True):
        measure, _, sport, sex = map(str, key)
        yield measure, sport, sex, group.sort_values("athlete_id").reset_index(drop=True)


def _refused(rows: pd.DataFrame, n_pool: int) -> pd.DataFrame:
    return rows.assign(n_pool=n_pool, n_effective=0.0, verdict="refused")


def _shown(pool: pd.DataFrame, found: PoolStandings) -> pd.DataFrame:
    """Return the standings of one pool; those with too few effective peers are refused."""
    thin = found.n_effective < FEWEST_EFFECTIVE
    far = found.distance > CAUTION_DISTANCE
    numbers = {"percentile": found.percentile, "low": found.low, "high": found.high}
    return pool.assign(
        **{name: np.where(thin, np.nan, value) for name, value in numbers.items()},
        n_effective=found.n_effective,
        n_pool=len(pool) - 1,
        distance=found.distance,
        verdict=np.select([thin, far], ["refused", "shown with caution"], "shown"),
        reason=np.select(
            [thin, far],
            [
                f"fewer than {FEWEST_EFFECTIVE:g} effective peers of similar build",
                "age or build is at the edge of the athletes measured",
            ],
            "",
        ),
    )


def _nearest(pool: pd.DataFrame, found: PoolStandings) -> pd.DataFrame:
    """Return the peers listed for each athlete of the pool, nearest first."""
    athlete = np.repeat(np.arange(len(pool)), found.peers.shape[1])
    peer = found.peers.ravel()
    mine, theirs = pool.iloc[athlete], pool.iloc[peer]
    return pd.DataFrame({
        "athlete_id": mine["athlete_id"].to_numpy(object),
        "measure": mine["measure"].to_numpy(object),
        "line": mine["line"].to_numpy(object),
        "peer_id": theirs["athlete_id"].to_numpy(object),
        "weight": found.peer_weights.ravel(),
        **{name: theirs[name].to_numpy(float) for name in ("value", "age_years", "height_cm", "mass_kg")},
    })


def _table(parts: list[pd.DataFrame], columns: tuple[str, ...], level: float) -> pd.DataFrame:
    """Return the parts under one another with exactly these columns."""
    filled = [part for part in parts if len(part)]
    if not filled:
        return pd.DataFrame({name: pd.Series(dtype=object) for name in columns})
    frame = pd.concat(filled, ignore_index=True)
    if "as_of" in columns:
        estimate = np.where(frame["noise"].isna(), METHOD.format(noise=NO_NOISE), METHOD.format(noise=NOISE))
        frame = frame.rename(columns={"held_on": "as_of"}).assign(level=level, method=estimate)
    return frame.reindex(columns=list(columns))
