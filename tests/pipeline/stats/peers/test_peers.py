import time
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from latewood.pipeline.catalogue.load import load_catalogue
from latewood.pipeline.stats.peers.results import PeerNeighbour, PeerStanding
from latewood.pipeline.stats.peers.standing import LEVEL, peer_standings
from latewood.pipeline.stats.peers.weights import interval, percentile_among, standardise

MEASURES = load_catalogue().measures
TESTED = date(2033, 6, 1)


def builds(rng, n):
    """Age, height, mass of n athletes, related as in adolescents."""
    age = rng.uniform(13.5, 18.8, n)
    height = 150 + 14.725 * np.log1p(age - 12.5) + rng.normal(0, 6, n)
    index = np.maximum(rng.normal(21 + 0.55 * (age - 13.5), 2.4), 17)
    return np.column_stack([age, height, index * (height / 100) ** 2])


def expected_value(build):
    age, height, mass = build.T
    return 35 + 1.2 * (age - 16) - 0.12 * (age - 16) ** 2 + 0.02 * (height - 175) + 0.18 * (mass - 70)


def record(build, value, measure="exit_speed", line="delivery=tee", build_days=0, **people):
    """Session values and people: height and mass `build_days` before the test."""
    ids = [f"a{at:04d}" for at in range(len(build))]
    day = pd.Timestamp(TESTED)
    parts = [
        pd.DataFrame({"measure": key, "line": where, "value": numbers, "held_on": on, "athlete_id": ids})
        for key, where, numbers, on in (
            (measure, line, value, day),
            ("standing_height", "", build[:, 1], day - timedelta(build_days)),
            ("body_mass", "", build[:, 2], day - timedelta(build_days)),
        )
    ]
    sessions = pd.concat(parts, ignore_index=True)
    sessions["session_id"] = sessions["athlete_id"] + "@" + sessions["held_on"].dt.strftime("%Y-%m-%d")
    born = [TESTED - timedelta(days=round(age * 365.25)) for age in build[:, 0]]
    persons = {"athlete_id": ids, "birth_date": born, "sex": "male", "sport": "baseball"} | people
    return sessions, pd.DataFrame(persons)


def pool(seed=1, n=80):
    rng = np.random.default_rng(seed)
    build = builds(rng, n)
    return build, expected_value(build) + rng.normal(0, 2, n)


# --- calibration ----------------------------------------------------------------------------------------


def test_percentiles_are_near_the_truth_and_intervals_hold_it():
    middle, edge, held = [], [], []
    for seed in range(2050, 2080):
        rng = np.random.default_rng(seed)
        build = builds(rng, 150)
        off = rng.normal(0, 2, 150)
        result = percentile_among(build, expected_value(build) + off, 0.95)
        truth = 100 * norm.cdf(off / 2)
        use = result.n_effective >= 10
        assert use.mean() > 0.8
        inner = use & (result.distance <= np.median(result.distance))
        middle.append((result.percentile - truth)[inner] ** 2)
        edge.append((result.percentile - truth)[use & ~inner] ** 2)
        held.append(((result.low <= truth) & (truth <= result.high))[use])
    assert np.sqrt(np.concatenate(middle).mean()) < 6.5
    assert np.sqrt(np.concatenate(edge).mean()) < 9.5
    assert 0.93 < np.concatenate(held).mean() < 0.995


def test_build_alone_does_not_move_the_percentile():
    # Heavier boys hit harder here; among peers of their build half of them are still above the middle.
    build, value = pool(3, 400)
    result = percentile_among(build, value, LEVEL)
    heavy = build[:, 2] > np.quantile(build[:, 2], 0.75)
    raw = 100 * np.argsort(np.argsort(value)) / value.size
    assert raw[heavy].mean() > 65
    assert abs(result.percentile[heavy].mean() - 50) < 6


def test_nearest_neighbour_share_would_be_biased_at_the_edge():
    # The heaviest have only lighter neighbours: without the mean taken off they look better than they are.
    build, value = pool(4, 400)
    result = percentile_among(build, value, LEVEL)
    heaviest = np.argsort(build[:, 2])[-15:]
    z = standardise(build)
    plain = []
    for at in heaviest:
        near = np.argsort(((z - z[at]) ** 2).sum(axis=1))[1:31]
        plain.append(100 * np.mean(value[near] < value[at]))
    assert np.mean(plain) - 50 > abs(result.percentile[heaviest].mean() - 50) + 5


# --- properties ------------------------------------------------------------------------------------------


def test_units_of_build_and_value_do_not_matter():
    build, value = pool()
    one = percentile_among(build, value, LEVEL)
    other = percentile_among(build * [12, 1 / 2.54, 2.2046226218], 3 + 2.2369 * value, LEVEL)
    for name in ("percentile", "low", "high", "n_effective", "distance"):
        assert getattr(one, name) == pytest.approx(getattr(other, name), rel=1e-6)


def test_lower_is_better_turns_the_percentile_round():
    build, value = pool()
    high = peer_standings(*record(build, value), MEASURES).standings
    low = peer_standings(*record(build, 50 - value, "sprint_60yd"), MEASURES).standings
    assert high["percentile"].to_numpy() == pytest.approx(low["percentile"].to_numpy(), abs=1e-8)


def test_a_better_value_never_has_a_lower_percentile():
    build, value = pool()
    before = percentile_among(build, value, LEVEL).percentile[7]
    raised = value.copy()
    raised[7] += 3
    assert percentile_among(build, raised, LEVEL).percentile[7] > before


def test_percentile_lies_in_its_interval():
    build, value = pool()
    value[0], value[1] = value.max() + 10, value.min() - 10
    result = percentile_among(build, value, LEVEL)
    assert np.all((result.low < result.percentile) & (result.percentile < result.high))
    assert np.all((result.low >= 0) & (result.high <= 100))


def test_twenty_seven_of_thirty_eight():
    # Jeffreys interval, Brown, Cai & DasGupta 2001, Stat Sci 16:101-133: 27 of 38 is 71 (58 to 82) at 90 %.
    ends = interval(np.array([27 / 38]), np.array([38.0]), np.zeros(1), np.zeros(1), 0.90)
    assert [round(100 * end[0]) for end in ends] == [71, 58, 82]


def test_uncertain_mean_widens_the_interval():
    share, n, z = np.array([0.7]), np.array([38.0]), np.array([0.52])
    narrow = interval(share, n, z, np.zeros(1), 0.90)
    wide = interval(share, n, z, np.array([0.4]), 0.90)
    assert wide[0] == narrow[0]
    assert wide[1] < narrow[1]
    assert wide[2] > narrow[2]


def test_ties_count_half():
    build, _ = pool()
    result = percentile_among(build, np.full(80, 40.0), LEVEL)
    assert result.percentile == pytest.approx(np.full(80, 50.0), abs=1e-6)


# --- from session values to standings --------------------------------------------------------------------


def only(table, athlete="a0000"):
    return table[table["athlete_id"] == athlete].iloc[0]


def test_columns_are_those_of_the_tables():
    tables = peer_standings(*record(*pool()), MEASURES)
    assert list(tables.standings.columns) == list(PeerStanding.__dataclass_fields__)
    assert list(tables.neighbours.columns) == list(PeerNeighbour.__dataclass_fields__)
    assert set(tables.standings["measure"]) == {"exit_speed"}
    assert tables.standings["reference"].unique().tolist() == ["program; baseball; male"]
    assert tables.standings["n_pool"].unique().tolist() == [79]


def test_no_sessions_give_empty_tables():
    sessions, people = record(*pool())
    tables = peer_standings(sessions.iloc[:0], people, MEASURES)
    assert (len(tables.standings), len(tables.neighbours)) == (0, 0)
    assert list(tables.standings.columns) == list(PeerStanding.__dataclass_fields__)


def test_too_few_peers_are_refused():
    build, value = pool()
    twenty = peer_standings(*record(build[:20], value[:20]), MEASURES).standings
    assert set(twenty["verdict"]) == {"refused"}
    assert only(twenty)["reason"].startswith("fewer than 20 peers")
    assert twenty["percentile"].isna().all()
    more = peer_standings(*record(build[:21], value[:21]), MEASURES).standings
    assert not more["reason"].str.startswith("fewer than 20 peers").any()


def test_few_effective_peers_are_refused_and_the_edge_is_marked():
    build, value = pool(5, 60)
    build[0] = 18.9, 204.0, 128.0
    table = peer_standings(*record(build, value), MEASURES).standings
    lonely = only(table)
    assert lonely["n_effective"] < 10
    assert (lonely["verdict"], lonely["percentile"] != lonely["percentile"]) == ("refused", True)
    shown = table[table["verdict"] != "refused"]
    assert (shown["n_effective"] >= 10).all()
    assert ((shown["distance"] > 2.3) == (shown["verdict"] == "shown with caution")).all()


@pytest.mark.parametrize(("days", "known"), [(0, True), (60, True), (61, False)])
def test_build_counts_within_sixty_days(days, known):
    table = peer_standings(*record(*pool(), build_days=days), MEASURES).standings
    assert (only(table)["verdict"] != "refused") is known
    assert known or "no standing height within 60 days" in only(table)["reason"]


def test_nearest_build_in_time_is_taken():
    build, value = pool()
    sessions, people = record(build, value)
    later = sessions[sessions["measure"] == "standing_height"].assign(
        held_on=pd.Timestamp(TESTED) + timedelta(30), value=lambda frame: frame["value"] + 9
    )
    listed = peer_standings(pd.concat([sessions, later]), people, MEASURES).neighbours
    near = listed[listed["athlete_id"] == "a0000"]
    assert near["height_cm"].to_numpy() == pytest.approx([build[int(p[1:]), 1] for p in near["peer_id"]])


def test_latest_session_counts():
    build, value = pool()
    sessions, people = record(build, value)
    older = sessions[sessions["measure"] == "exit_speed"].assign(
        held_on=pd.Timestamp(TESTED) - timedelta(22), value=0.0
    )
    table = peer_standings(pd.concat([older, sessions]), people, MEASURES).standings
    assert len(table) == 80
    assert only(table)["value"] == pytest.approx(value[0])
    assert only(table)["as_of"] == pd.Timestamp(TESTED)


def test_sessions_within_three_weeks_of_the_latest_count_together_unless_on_another_device():
    build, value = pool()
    sessions, people = record(build, value)
    near = sessions[sessions["measure"] == "exit_speed"].assign(
        held_on=pd.Timestamp(TESTED) - timedelta(21), value=lambda frame: frame["value"] - 3.0
    )
    both = peer_standings(pd.concat([near, sessions]), people, MEASURES).standings
    assert only(both)["value"] == pytest.approx(value[0] - 1.5)
    assert only(both)["as_of"] == pd.Timestamp(TESTED)
    other = near.assign(own_line="device=optical", shift_se=0.4)
    apart = pd.concat([other, sessions.assign(own_line=sessions["line"], shift_se=0.0)])
    assert only(peer_standings(apart, people, MEASURES).standings)["value"] == pytest.approx(value[0])


# --- noise of the day and of bridges -----------------------------------------------------------------------


def shares_held(seeds, between, noise, sessions=1, bridge=0.0):
    """How often 90 % intervals hold the true percentile: as given, and with the noise left out."""
    held, bare = [], []
    for seed in seeds:
        rng = np.random.default_rng(seed)
        build = builds(rng, 120)
        off = rng.normal(0, between, 120)
        joined = (rng.random(120) < 0.5) * 1.0
        error = noise / np.sqrt(sessions)
        value = expected_value(build) + off + rng.normal(0, error, 120) + joined * rng.normal(0, bridge)
        truth = 100 * norm.cdf(off / between)
        full = percentile_among(build, value, 0.90, np.full(120, error), bridge * joined[:, None])
        none = percentile_among(build, value, 0.90)
        use = full.n_effective >= 10
        held.append(((full.low <= truth) & (truth <= full.high))[use])
        bare.append(((none.low <= truth) & (truth <= none.high))[use])
    return np.concatenate(held).mean(), np.concatenate(bare).mean()


@pytest.mark.parametrize(("noise", "sessions"), [(0.6, 1), (1.0, 1), (1.0, 3)])
def test_interval_holds_the_athletes_own_noise(noise, sessions):
    held, bare = shares_held(range(3050, 3080), between=2.0, noise=noise, sessions=sessions)
    assert 0.88 <= held <= 0.97, held
    assert sessions > 1 or bare < held - 0.02, (bare, held)


def test_interval_holds_the_error_of_an_offset_between_devices():
    held, bare = shares_held(range(3100, 3140), between=2.0, noise=0.0, bridge=1.5)
    assert 0.88 <= held <= 0.97, held
    assert bare < held - 0.03, (bare, held)


def test_an_offset_counts_less_where_it_is_shared_with_the_peers():
    rng = np.random.default_rng(31)
    n = 400
    old, heavy = rng.integers(0, 2, n), rng.integers(0, 2, n)
    build = np.column_stack([
        16 + 2 * old + rng.normal(0, 0.3, n),
        rng.normal(178, 5, n),
        75 + 20 * heavy + rng.normal(0, 3, n),
    ])
    value = rng.normal(0, 1, n)
    with_peers = 0.5 * (old == heavy)  # no quadratic of age and mass follows it, but peers share it
    anyhow = rng.permutation(with_peers)
    widths = [
        np.median(result.high - result.low)
        for result in (
            percentile_among(build, value, 0.9, offset_error=o[:, None]) for o in (with_peers, anyhow)
        )
    ]
    assert widths[0] < 0.9 * widths[1], widths


def test_an_offset_that_all_share_moves_nobody():
    build, value = pool()
    plain = percentile_among(build, value, LEVEL)
    all_joined = percentile_among(build, value, LEVEL, offset_error=np.full((80, 1), 3.0))
    assert all_joined.low == pytest.approx(plain.low, abs=1e-6)
    half = percentile_among(build, value, LEVEL, offset_error=3.0 * (np.arange(80) % 2)[:, None])
    assert ((half.high - half.low) > (plain.high - plain.low)).all()


def test_the_typical_error_of_the_line_widens_and_an_unknown_one_is_said():
    sessions, people = record(*pool())
    silent = {"exit_speed": replace(MEASURES["exit_speed"], typical_error=None)}
    without = peer_standings(sessions, people, silent).standings
    declared = peer_standings(sessions, people, MEASURES).standings
    assert "not known" in only(without)["method"]
    assert "not known" not in only(declared)["method"]
    assert ((declared["high"] - declared["low"]) > (without["high"] - without["low"])).all()


def test_sports_sexes_and_lines_are_never_mixed():
    build, value = pool()
    softball = ["softball" if at % 2 else "baseball" for at in range(80)]
    sessions, people = record(build, value, sport=softball)
    mixed = peer_standings(sessions, people, MEASURES)
    kinds = people.set_index("athlete_id")["sport"]
    pairs = mixed.neighbours
    assert (pairs["athlete_id"].map(kinds) == pairs["peer_id"].map(kinds)).all()
    assert set(mixed.standings["n_pool"]) == {39}


@pytest.mark.parametrize(
    ("column", "reason"), [("birth_date", "birth date not stated"), ("sex", "sex or sport not stated")]
)
def test_missing_facts_are_refused_by_name(column, reason):
    sessions, people = record(*pool())
    people[column] = people[column].astype(object)
    people.loc[0, column] = None
    table = peer_standings(sessions, people, MEASURES).standings
    assert (only(table)["verdict"], only(table)["reason"]) == ("refused", reason)
    assert len(table) == 80


def test_neighbours_are_the_thirty_nearest_and_never_oneself():
    listed = peer_standings(*record(*pool()), MEASURES).neighbours
    assert (listed.groupby("athlete_id").size() == 30).all()
    assert (listed["athlete_id"] != listed["peer_id"]).all()
    steps = listed.groupby("athlete_id")["weight"].diff().dropna()
    assert (steps <= 0).all()


def test_two_thousand_athletes_take_under_two_seconds():
    sessions, people = record(*pool(9, 2000))
    began = time.perf_counter()
    tables = peer_standings(sessions, people, MEASURES)
    assert len(tables.neighbours) == 60_000
    assert time.perf_counter() - began < 2.0
