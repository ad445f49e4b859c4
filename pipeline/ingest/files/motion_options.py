"""What a mapping says about motion capture: which markers or angles make which segment's rotational speed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from latewood.pipeline.errors import MappingError
from latewood.pipeline.ingest.files.fields import check_fields, text_of
from latewood.pipeline.ingest.files.motion import AXES
from latewood.pipeline.ingest.files.motion_angle_options import AngleRule, angle_rules, check_angle_units

MAGNITUDE = "magnitude"
SEPARATION = "Separation"  # the column that [separation] makes
FEWEST_MARKERS = 3
_FIELDS = {"markers", "angles", "order", "within", "unit", "about"}
_LINES = {"hips", "shoulders", "up", "at", "turns"}
TURNS = ("left", "right")


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentRule:
    """How one segment's speed is computed: from markers, from three angles, or from one angle.

    `about`: the axis of the room whose component is taken, or MAGNITUDE. `within`: the segment that the angles are
    measured against. `unit`: of angles whose file states none.
    """

    name: str
    markers: tuple[str, ...] = ()
    angles: tuple[str, ...] = ()
    order: str = ""
    within: str = ""
    unit: str = ""
    about: str = MAGNITUDE


@dataclass(frozen=True, slots=True, kw_only=True)
class SeparationRule:
    """Hip-shoulder separation: the angle seen from above between two lines of markers, each from right to left.

    `at`: the file's word for the event. `turns`: to which side the athlete turns; hips ahead that way are positive.
    """

    hips: tuple[str, str]
    shoulders: tuple[str, str]
    up: str
    at: str
    turns: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MotionOptions:
    """What is made of a motion file: speeds of segments, angles at events, and the file's own channels."""

    segments: tuple[SegmentRule, ...] = ()
    separation: SeparationRule | None = None
    angles: tuple[AngleRule, ...] = ()
    channels: tuple[
        str, ...
    ] = ()  # columns the mapping reads; what it does not name is not brought into the table

    @property
    def made(self) -> frozenset[str]:
        """The columns of angles and lengths at events that it computes."""
        return frozenset((*(rule.name for rule in self.angles), *([SEPARATION] if self.separation else [])))


def motion_options(raw: Mapping[str, Any], origin: str) -> MotionOptions:
    """Return [segments], [separation] and [angles] of a mapping, with the columns it reads. Raises MappingError."""
    segments = raw.get("segments", {})
    if not isinstance(segments, Mapping) or not all(isinstance(v, Mapping) for v in segments.values()):
        raise MappingError(
            f"{origin}, [segments]: write one table a segment, such as [segments.pelvis] with markers = [...]"
        )
    rules = tuple(_segment(str(name), one, f"{origin}, [segments.{name}]") for name, one in segments.items())
    names = {rule.name for rule in rules}
    for at, rule in enumerate(rules):
        if rule.within and rule.within not in {one.name for one in rules[:at]}:
            raise MappingError(
                f"{origin}, [segments.{rule.name}], within: {rule.within!r} is not a segment above it; "
                "write that one first"
            )
    _check_units(raw, names, origin)
    angles = angle_rules(raw, origin)
    check_angle_units(angles, raw, origin)
    return MotionOptions(
        segments=rules,
        angles=angles,
        separation=_separation(raw["separation"], f"{origin}, [separation]") if "separation" in raw else None,
        channels=_columns(raw),
    )


def _columns(raw: Mapping[str, Any]) -> tuple[str, ...]:
    """The columns that a mapping reads; what is wrongly written there is refused elsewhere."""
    result: list[str] = []
    for block in _blocks(raw):
        given = block.get("columns", block.get("column", ()))
        result += [given] if isinstance(given, str) else [str(one) for one in given]
    return tuple(result)


def _blocks(raw: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    blocks = raw.get("values", [])
    return [one for one in blocks if isinstance(one, Mapping)] if isinstance(blocks, list) else []


def _check_units(raw: Mapping[str, Any], names: set[str], origin: str) -> None:
    for block in _blocks(raw):
        columns = block.get("columns", block.get("column", ()))
        mine = names & ({columns} if isinstance(columns, str) else {str(c) for c in columns})
        if mine and block.get("unit", "deg/s") != "deg/s":
            raise MappingError(
                f"{origin}, [[values]] {block.get('measure')}: the speed of segment {min(mine)!r} is computed in "
                'deg/s; write unit = "deg/s"'
            )


def _segment(name: str, raw: Mapping[str, Any], where: str) -> SegmentRule:
    check_fields(raw, _FIELDS, where)
    markers, angles = _names(raw, "markers", where), _names(raw, "angles", where)
    if bool(markers) == bool(angles):
        raise MappingError(f"{where}: give either markers = [...] or angles = [...]")
    if markers and len(set(markers)) < FEWEST_MARKERS:
        raise MappingError(
            f"{where}, markers: {len(set(markers))} do not show how a segment is turned; name "
            f"{FEWEST_MARKERS} or more that do not lie on one line"
        )
    order = text_of(raw, "order", where)
    if angles and len(angles) not in (1, 3):
        raise MappingError(f"{where}, angles: name one angle, or all three; {len(angles)} do not suffice")
    if len(angles) == 3 and not _is_order(order):
        raise MappingError(
            f"{where}, order: {order!r} is not an order of three axes such as ZXY (axes that move along) or zxy (axes "
            "of the room); the file's own documentation names it"
        )
    within = text_of(raw, "within", where)
    about = text_of(raw, "about", where) or MAGNITUDE
    if about not in (*AXES, MAGNITUDE):
        raise MappingError(f"{where}, about: {about!r} is not {MAGNITUDE}, x, y or z")
    if len(angles) == 1 and (within or "about" in raw):
        raise MappingError(f"{where}: one angle has neither within nor about; name all three angles")
    unit = text_of(raw, "unit", where)
    if unit not in ("", "deg", "rad"):
        raise MappingError(f"{where}, unit: {unit!r} is not deg or rad")
    return SegmentRule(
        name=name, markers=markers, angles=angles, order=order, within=within, unit=unit, about=about
    )


def _is_order(text: str) -> bool:
    return (
        len(text) == 3
        and set(text.lower()) <= set(AXES)
        and text in (text.lower(), text.upper())
        and text[0] != text[1] != text[2]
    )


def _separation(raw: Any, where: str) -> SeparationRule:  # noqa: ANN401  what TOML gives
    if not isinstance(raw, Mapping):
        raise MappingError(f"{where}: is not a table; write hips = [right, left] under a line [separation]")
    check_fields(raw, _LINES, where)
    hips, shoulders = _names(raw, "hips", where), _names(raw, "shoulders", where)
    for key, pair in (("hips", hips), ("shoulders", shoulders)):
        if len(set(pair)) != 2:
            raise MappingError(f"{where}, {key}: name two markers, the right one first")
    up, turns, at = text_of(raw, "up", where), text_of(raw, "turns", where), text_of(raw, "at", where)
    if up not in AXES:
        raise MappingError(f"{where}, up: {up!r} is not the axis of the room that points up: x, y or z")
    if turns not in TURNS or not at:
        raise MappingError(
            f"{where}: state at (the file's word for the event) and turns (to which side the athlete turns: left for a "
            "right-handed thrower or batter)"
        )
    return SeparationRule(
        hips=(hips[0], hips[1]), shoulders=(shoulders[0], shoulders[1]), up=up, at=at, turns=turns
    )


def _names(raw: Mapping[str, Any], key: str, where: str) -> tuple[str, ...]:
    value = raw.get(key, [])
    if not isinstance(value, list) or not all(isinstance(one, str) and one.strip() for one in value):
        raise MappingError(f'{where}, {key}: {value!r} is not a list of names such as ["A", "B", "C"]')
    return tuple(value)
