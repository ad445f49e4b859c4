"""Finds what a mapping names in a motion file: points and angles, by their names as written or nearly so."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence

import numpy as np

from latewood.pipeline.catalogue.units import find_unit
from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files.motion import AXES, Motion
from latewood.pipeline.stats.engine.mixed_sums import Floats


def point_of(name: str, motion: Motion, wanted: str, where: str) -> Floats:
    """The places (n, 3) of a point. Raises FileUnreadableError naming the nearest names."""
    found = matching(motion.points, wanted)
    if found is None:
        raise FileUnreadableError(f"{name}: has no point {wanted!r} for {where}{near(motion.points, wanted)}")
    return motion.points[found]


def matching(names: Mapping[str, object], wanted: str) -> str | None:
    """A name as written, else without case, else without what stands before a colon, where that is one only."""
    if wanted in names:
        return wanted
    for form in (str.casefold, lambda text: text.rsplit(":", 1)[-1].casefold()):
        fitting = [one for one in names if form(one) == form(wanted)]
        if len(fitting) == 1:
            return fitting[0]
    return None


def near(names: Sequence[str] | Mapping[str, object], wanted: str) -> str:
    """The names that are most alike, as the end of a sentence."""
    alike = difflib.get_close_matches(wanted, list(names), n=3, cutoff=0.5)
    return f"; nearest are {', '.join(alike)}" if alike else "; `latewood look` lists what it has"


def angle_of(name: str, motion: Motion, wanted: str, own_unit: str, where: str) -> Floats:
    """One angle in degrees: a channel, or one coordinate of a point that holds angles ('Trunk x').

    `own_unit` is what the mapping says of its unit. Raises FileUnreadableError.
    """
    values = component_of(name, motion, wanted, where)
    stated = unit_of(motion, wanted) or own_unit
    unit = find_unit(stated) if stated else None
    if unit is None or unit.symbol not in ("deg", "rad"):
        raise FileUnreadableError(
            f'{name}: angle {wanted!r} of {where} is in {stated or "no unit"!r}, not deg or rad; state unit = "deg" '
            "there in the mapping if the file states none"
        )
    if own_unit and own_unit != unit.symbol:
        raise FileUnreadableError(
            f"{name}: angle {wanted!r} is in {stated} by the file and in {own_unit} by the mapping; correct it"
        )
    return values if unit.symbol == "deg" else np.degrees(values)


def component_of(name: str, motion: Motion, wanted: str, where: str) -> Floats:
    """The numbers of a channel, or of one coordinate of a point ('Trunk x'). Raises FileUnreadableError."""
    found = matching(motion.channels, wanted)
    if found is not None:
        if motion.per_frame > 1:
            raise FileUnreadableError(
                f"{name}: channel {wanted!r} for {where} is faster than the frames; export angles with the frames"
            )
        return motion.channels[found]
    point, _, axis = wanted.rpartition(" ")
    if axis.lower() in AXES and (of := matching(motion.points, point)) is not None:
        return motion.points[of][:, AXES.index(axis.lower())]
    names = {**motion.channels, **{f"{p} {a}": 0 for p in motion.points for a in AXES}}
    raise FileUnreadableError(f"{name}: has no angle {wanted!r} for {where}{near(names, wanted)}")


def names_channel(motion: Motion, wanted: str) -> bool:
    """Whether a column of the mapping is one of the file's own."""
    point, _, axis = wanted.rpartition(" ")
    return wanted in motion.channels or (axis.lower() in AXES and matching(motion.points, point) is not None)


def unit_of(motion: Motion, wanted: str) -> str:
    """The unit that the file states for a channel or an angle; '' where it states none."""
    found = matching(motion.channels, wanted) or matching(motion.points, wanted.rpartition(" ")[0])
    return motion.units.get(found or "", "")
