"""The draw of plan starts: balanced by body mass, the same for a seed for ever, every order as likely."""

from __future__ import annotations

import hashlib
from collections import Counter

import numpy as np
import pytest

from latewood.pipeline.stats.links.draw_order import drawn_groups
from latewood.pipeline.stats.links.start_draw import blocks_of, by_mass, possible_draws


def test_a_seed_gives_the_same_draw_for_ever() -> None:
    """Written down once: a draw that was logged must never read otherwise."""
    assert drawn_groups(7, 3, 11) == (0, 2, 1, 2, 1, 0, 1)
    first = sorted(range(3), key=lambda start: hashlib.sha256(f"11:0:{start}".encode()).hexdigest())
    assert list(drawn_groups(7, 3, 11)[:3]) == first


@pytest.mark.parametrize(("n", "k"), [(6, 2), (7, 3), (40, 4), (41, 4)])
def test_each_block_of_neighbours_in_mass_has_every_start_once(n: int, k: int) -> None:
    groups, blocks = np.array(drawn_groups(n, k, 5)), blocks_of(n, k)
    for block in np.unique(blocks):
        own = groups[blocks == block]
        assert len(set(own.tolist())) == len(own)
        assert len(own) == k or block == blocks.max()


def test_all_orders_of_a_block_come_equally_often_over_seeds() -> None:
    observed = Counter(drawn_groups(3, 3, seed) for seed in range(6000))
    assert len(observed) == 6
    assert all(abs(n - 1000) < 3.5 * (6000 / 6 * 5 / 6) ** 0.5 for n in observed.values())


def test_blocks_are_drawn_apart_from_each_other() -> None:
    observed = Counter(drawn_groups(4, 2, seed) for seed in range(4000))
    assert len(observed) == 4
    assert all(abs(n - 1000) < 3.5 * (4000 / 4 * 3 / 4) ** 0.5 for n in observed.values())


@pytest.mark.parametrize(("n", "k"), [(6, 2), (7, 3)])
def test_other_draws_are_those_other_seeds_may_give_each_as_often(n: int, k: int) -> None:
    seeds = {drawn_groups(n, k, seed) for seed in range(3000)}
    other = Counter(map(tuple, possible_draws(n, k, 6000, np.random.default_rng(3)).tolist()))
    assert set(other) == seeds
    share = 1.0 / len(seeds)
    assert all(abs(c - 6000 * share) < 4.0 * (6000 * share * (1 - share)) ** 0.5 for c in other.values())


def test_the_heaviest_stands_first_and_equal_ones_by_id() -> None:
    assert by_mass(["b", "a", "c"], [70.0, 70.0, 81.5]) == ("c", "a", "b")
