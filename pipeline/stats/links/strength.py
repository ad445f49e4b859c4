"""One-repetition maximum from a set of several, and strength per body size: named published formulas."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from latewood.pipeline.errors import CatalogueError

Floats = NDArray[np.float64]

DEFAULT_FORMULA: Final = "epley"

# At 37 repetitions Brzycki's line reaches zero; no formula here says anything beyond it.
REPS_LIMIT: Final = 37

# Common practice and the range in which the formulas were compared (Whisenant et al. 2003, J Strength
# Cond Res 17(2):221-227: validity is higher the fewer the repetitions).
REPS_TRUSTED: Final = 10

# Jaric 2002, Sports Med 32(10):615-631: muscle force grows with body mass to the power 2/3.
FORCE_EXPONENT: Final = 2.0 / 3.0


def epley(load: Floats, reps: Floats) -> Floats:
    """Return load · (1 + reps/30), in the unit of `load`.

    Epley B. 1985, Poundage chart. Boyd Epley Workout. Body Enterprises, Lincoln NE.
    `load` and `reps` (n,).
    """
    return load * (1.0 + reps / 30.0)


def brzycki(load: Floats, reps: Floats) -> Floats:
    """Return 36 · load / (37 - reps), in the unit of `load`.

    Brzycki M. 1993, J Phys Educ Recreat Dance 64(1):88-90.
    `load` and `reps` (n,).
    """
    return 36.0 * load / (37.0 - reps)


def lander(load: Floats, reps: Floats) -> Floats:
    """Return 100 · load / (101.3 - 2.67123 · reps), in the unit of `load`.

    Lander J. 1985, NSCA Journal 6(6):60-61.
    `load` and `reps` (n,).
    """
    return 100.0 * load / (101.3 - 2.67123 * reps)


def lombardi(load: Floats, reps: Floats) -> Floats:
    """Return load · reps^0.10, in the unit of `load`.

    Lombardi VP 1989, Beginning Weight Training. W.C. Brown.
    `load` and `reps` (n,).
    """
    return load * reps**0.10


def mayhew(load: Floats, reps: Floats) -> Floats:
    """Return 100 · load / (52.2 + 41.9 · e^(-0.055 · reps)), in the unit of `load`.

    Mayhew JL et al. 1992, J Appl Sport Sci Res 6(4):200-206.
    `load` and `reps` (n,).
    """
    return 100.0 * load / (52.2 + 41.9 * np.exp(-0.055 * reps))


def oconner(load: Floats, reps: Floats) -> Floats:
    """Return load · (1 + 0.025 · reps), in the unit of `load`.

    O'Conner B, Simmons J, O'Shea P 1989, Weight Training Today. West.
    `load` and `reps` (n,).
    """
    return load * (1.0 + 0.025 * reps)


def wathen(load: Floats, reps: Floats) -> Floats:
    """Return 100 · load / (48.8 + 53.8 · e^(-0.075 · reps)), in the unit of `load`.

    Wathen D. 1994, in Essentials of Strength Training and Conditioning. Human Kinetics.
    `load` and `reps` (n,).
    """
    return 100.0 * load / (48.8 + 53.8 * np.exp(-0.075 * reps))


FORMULAS: Final[Mapping[str, Callable[[Floats, Floats], Floats]]] = MappingProxyType({
    "epley": epley,
    "brzycki": brzycki,
    "lander": lander,
    "lombardi": lombardi,
    "mayhew": mayhew,
    "oconner": oconner,
    "wathen": wathen,
})


def find_formula(name: str) -> Callable[[Floats, Floats], Floats]:
    """Return the formula of that name.

    Raises CatalogueError for any other name.
    It takes load (n,) and repetitions (n,) and gives (n,), in the unit of the load.
    """
    if name not in FORMULAS:
        raise CatalogueError(
            f"rep_formula: no formula of this name (got '{name}'); use one of {', '.join(FORMULAS)}"
        )
    return FORMULAS[name]


def one_rep_max(formula: str, load: ArrayLike, reps: ArrayLike) -> Floats:
    """Return the estimated one-repetition maximum, in the unit of `load` and of its broadcast shape.

    A single repetition is the maximum as lifted, whatever the formula says (most of them add 1 to 9 %).
    Missing loads or repetitions give NaN. Raises CatalogueError for an unknown formula, and ValueError
    for repetitions that are not whole, below 1 or at or above 37, and for a load that is not positive.

    `load` and `reps` (n,), or numbers.

    >>> float(one_rep_max("epley", 100.0, 5))
    116.66666666666667
    >>> float(one_rep_max("mayhew", 100.0, 1))
    100.0
    """
    estimate = find_formula(formula)
    loads, counts = np.broadcast_arrays(np.asarray(load, dtype=float), np.asarray(reps, dtype=float))
    _refuse(loads, counts)
    return np.where(counts == 1.0, loads, estimate(loads, counts))


def is_trusted(reps: ArrayLike) -> NDArray[np.bool_]:
    """Return whether an estimate from so many repetitions is within the range the formulas were tried in.

    `reps` (n,); the result (n,).
    """
    counts = np.asarray(reps, dtype=float)
    return (counts >= 1) & (counts <= REPS_TRUSTED)


def per_body_size(strength: ArrayLike, body_mass: ArrayLike, exponent: float = FORCE_EXPONENT) -> Floats:
    """Return strength / mass^exponent, for comparing people of different size.

    For lifted loads only: throw and exit speed, sprints and jumps do not grow with body mass by itself
    (exponent 0 for rapid movements; Markovic & Jaric 2004, Eur J Appl Physiol 92:139-149) and are never
    divided. Both arguments in kg; raises ValueError where a mass is not positive.

    `strength` and `body_mass` (n,), or numbers.

    >>> round(float(per_body_size(90.0, 60.0)), 4)
    5.8723
    """
    mass = np.asarray(body_mass, dtype=float)
    if np.any(mass <= 0):
        raise ValueError(f"body_mass: not positive (got {float(np.nanmin(mass)):g}); give kg above 0")
    return np.asarray(np.asarray(strength, dtype=float) / mass**exponent, dtype=float)


def _refuse(load: Floats, reps: Floats) -> None:
    """Raise where a set cannot be turned into a maximum."""
    known = reps[~np.isnan(reps)]
    wrong = known[(known < 1) | (known >= REPS_LIMIT) | (known != np.floor(known))]
    if wrong.size:
        raise ValueError(
            f"reps: not a usable count (got {wrong[0]:g}); give a whole number from 1 to {REPS_LIMIT - 1}"
        )
    if np.any(load <= 0):
        raise ValueError(f"load: not positive (got {float(np.nanmin(load)):g}); give a load above 0")
