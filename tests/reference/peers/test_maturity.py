"""Maturity offset equations, worked by hand from the printed coefficients.

Mirwald RL et al. 2002, Med Sci Sports Exerc 34:689-694; Moore SA et al. 2015, Med Sci Sports Exerc
47:1755-1764. Four decimals are kept.
"""

import pytest

from latewood.pipeline.stats.growth.maturity import (
    mirwald_boys,
    mirwald_girls,
    moore_boys,
    moore_boys_sitting,
    moore_girls,
)

BOYS = [  # age, height, sitting height, mass; Mirwald, Moore with sitting height, Moore without
    (12.0, 150.0, 78.0, 42.0, -1.7561, -1.5444, -1.4977),
    (13.5, 163.0, 84.0, 52.0, -0.2984, -0.1515, -0.0509),
    (14.5, 170.0, 88.0, 60.0, 0.7573, 0.8474, 0.9046),
    (16.0, 178.0, 93.0, 72.0, 2.3075, 2.3387, 2.2881),
]
GIRLS = [  # age, height, sitting height, mass; Mirwald, Moore
    (11.0, 147.0, 77.0, 40.0, -0.7965, -0.8802),
    (12.5, 157.0, 83.0, 48.0, 0.6322, 0.5789),
    (14.0, 163.0, 86.0, 55.0, 1.8236, 1.9282),
]


@pytest.mark.parametrize("case", BOYS)
def test_boys(case):
    age, height, sitting, mass, mirwald, with_sitting, without = case
    assert mirwald_boys(age, height, sitting, mass) == pytest.approx(mirwald, abs=6e-5)
    assert moore_boys_sitting(age, sitting) == pytest.approx(with_sitting, abs=6e-5)
    assert moore_boys(age, height) == pytest.approx(without, abs=6e-5)


@pytest.mark.parametrize("case", GIRLS)
def test_girls(case):
    age, height, sitting, mass, mirwald, moore = case
    assert mirwald_girls(age, height, sitting, mass) == pytest.approx(mirwald, abs=6e-5)
    assert moore_girls(age, height) == pytest.approx(moore, abs=6e-5)


def test_mass_over_height_counts_a_hundredfold():
    # Without the factor 100 the first boy would read -2.391, a misprint found in public.
    age, height, sitting, mass, mirwald, *_ = BOYS[0]
    assert mirwald_boys(age, height, sitting, mass) - 0.02292 * 99 * mass / height == pytest.approx(
        -2.391, abs=6e-4
    )
    assert mirwald > -2
