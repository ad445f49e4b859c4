import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from latewood.pipeline.errors import CatalogueError
from latewood.pipeline.stats.links.strength import (
    FORMULAS,
    find_formula,
    is_trusted,
    one_rep_max,
    per_body_size,
)

NAMES = st.sampled_from(sorted(FORMULAS))
LOADS = st.floats(min_value=5.0, max_value=400.0)


@given(name=NAMES, load=LOADS, factor=st.floats(min_value=0.1, max_value=5.0), reps=st.integers(1, 36))
def test_unit_does_not_matter(name, load, factor, reps):
    assert one_rep_max(name, factor * load, reps) == pytest.approx(
        factor * one_rep_max(name, load, reps), rel=1e-12
    )


@given(name=NAMES, load=LOADS)
def test_more_repetitions_mean_more(name, load):
    assert np.all(np.diff(one_rep_max(name, load, np.arange(2, 37))) > 0)


@given(name=NAMES, load=LOADS, reps=st.integers(1, 36))
def test_never_below_the_load(name, load, reps):
    assert float(one_rep_max(name, load, reps)) >= load


def test_arrays_are_broadcast_and_missing_stays_missing():
    result = one_rep_max("brzycki", [100.0, np.nan, 80.0], [5, 5, np.nan])
    assert result.shape == (3,)
    assert result[0] == pytest.approx(112.5)
    assert np.isnan(result[1:]).all()


@pytest.mark.parametrize("reps", [0, 0.5, 2.5, -3, 37, 40, np.inf])
@pytest.mark.parametrize("name", FORMULAS)
def test_unusable_repetitions_are_refused(name, reps):
    with pytest.raises(ValueError, match="reps: not a usable count"):
        one_rep_max(name, 100.0, reps)


@pytest.mark.parametrize("load", [0.0, -20.0])
def test_load_must_be_positive(load):
    with pytest.raises(ValueError, match="load: not positive"):
        one_rep_max("epley", load, 3)


def test_unknown_formula_names_the_known_ones():
    with pytest.raises(CatalogueError, match=r"got 'guess'.*epley, brzycki"):
        find_formula("guess")


def test_high_repetitions_are_not_trusted():
    assert is_trusted([1, 6, 10, 11, 36]).tolist() == [True, True, True, False, False]


def test_body_size_needs_a_mass():
    with pytest.raises(ValueError, match="body_mass: not positive"):
        per_body_size(100.0, 0.0)
