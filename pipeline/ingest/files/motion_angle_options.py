"""What a mapping says about angles and lengths at an event: [angles.NAME], each one column of the trial."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from latewood.pipeline.errors import MappingError
from latewood.pipeline.ingest.files.fields import check_fields, text_of
from latewood.pipeline.ingest.files.motion import AXES

# the key that names the points, how many ends each has, and what else the kind needs
KINDS: Mapping[str, int] = {"joint": 3, "line": 2, "arm": 2, "ankles": 2, "angle": 1}
NEEDS: Mapping[str, tuple[str, ...]] = {
    "joint": (), "line": ("up", "toward"), "arm": ("shoulders", "hips", "side"), "ankles": ("up",), "angle": (),
}  # fmt: skip
MOMENTS = (("at",), ("from", "to"), ("most_before",))
SIGNED = (*AXES, *(f"-{axis}" for axis in AXES))
SIDES = ("right", "left")
_FIELDS = {
    *KINDS, "up", "toward", "shoulders", "hips", "side", "at", "from", "to", "most_before", "unit", "reverse",
}  # fmt: skip
_ORDER = {
    "joint": '["hip", "knee", "ankle"]', "line": '["lower", "upper"]', "arm": '["shoulder", "elbow"]',
    "ankles": '["drive ankle", "front ankle"]', "angle": '"name"',
}  # fmt: skip

Ends = tuple[tuple[str, ...], ...]  # the markers of each end; of several, their middle


@dataclass(frozen=True, slots=True, kw_only=True)
class AngleRule:
    """One angle or length of a trial.

    `kind`: joint (bend, 0 is straight), line (lean from `up` toward `toward`), arm (behind the line of the shoulders),
    ankles (distance along the ground), angle (one of the file's own). `at`: the event. With `until` too, by how much
    the value falls from `at` to it. `most`: the largest before `at` instead. `unit`: of points or an angle whose file
    states none. `reverse`: the file's own angle is counted the other way.
    """

    name: str
    kind: str
    ends: Ends
    at: str
    until: str = ""
    most: bool = False
    up: str = ""
    toward: str = ""
    shoulders: Ends = ()
    hips: Ends = ()
    side: str = ""
    unit: str = ""
    reverse: bool = False

    @property
    def made_in(self) -> str:
        """The unit of the column."""
        return "cm" if self.kind == "ankles" else "deg"


def angle_rules(raw: Mapping[str, Any], origin: str) -> tuple[AngleRule, ...]:
    """Return the [angles] tables of a mapping. Raises MappingError naming the field and the fix."""
    tables = raw.get("angles", {})
    if not isinstance(tables, Mapping) or not all(isinstance(v, Mapping) for v in tables.values()):
        raise MappingError(
            f"{origin}, [angles]: write one table an angle, such as [angles.knee] with joint = [...] and at = ..."
        )
    rules = tuple(_rule(str(name), one, f"{origin}, [angles.{name}]") for name, one in tables.items())
    taken = set(raw.get("segments", {})) if isinstance(raw.get("segments", {}), Mapping) else set()
    for rule in rules:
        if rule.name in taken:
            raise MappingError(f"{origin}, [angles.{rule.name}]: a segment has that name; take another")
    return rules


def check_angle_units(rules: tuple[AngleRule, ...], raw: Mapping[str, Any], origin: str) -> None:
    """Raise MappingError where [[values]] reads a computed column in another unit than it is made in."""
    made = {rule.name: rule.made_in for rule in rules}
    blocks = raw.get("values", [])
    for block in blocks if isinstance(blocks, list) else []:
        columns = block.get("columns", block.get("column", ())) if isinstance(block, Mapping) else ()
        for name in [columns] if isinstance(columns, str) else columns:
            if name in made and block.get("unit") != made[name]:
                raise MappingError(
                    f"{origin}, [[values]] {block.get('measure')}: {name!r} is computed in {made[name]}; write unit = "
                    f'"{made[name]}"'
                )


def _rule(name: str, raw: Mapping[str, Any], where: str) -> AngleRule:
    check_fields(raw, _FIELDS, where)
    kinds = [kind for kind in KINDS if kind in raw]
    if len(kinds) != 1:
        raise MappingError(f"{where}: name one of {', '.join(KINDS)}, and no two of them")
    kind = kinds[0]
    allowed = {kind, *NEEDS[kind], "at", "from", "to", "most_before"}
    allowed |= {"unit"} if kind in ("ankles", "angle") else set()
    allowed |= {"reverse"} if kind == "angle" else set()
    extra = sorted(set(raw) - allowed)
    missing = [key for key in NEEDS[kind] if key not in raw]
    if extra or missing:
        raise MappingError(
            f"{where}: {kind} "
            + (f"needs {missing[0]} too" if missing else f"has no {extra[0]}; take it out")
        )
    given = tuple(key for key in ("at", "from", "to", "most_before") if key in raw)
    if given not in MOMENTS or not all(text_of(raw, key, where) for key in given):
        raise MappingError(
            f'{where}: say when, by the file\'s own words for events: at = "...", or from = "..." and to = "..." (how '
            'much it falls between them), or most_before = "..."'
        )
    reverse = raw.get("reverse", False)
    if not isinstance(reverse, bool):
        raise MappingError(f"{where}, reverse: is true or false")
    two = {key: _ends(raw, key, 2, where) if key in raw else () for key in ("shoulders", "hips")}
    return AngleRule(
        name=name, kind=kind, ends=_ends(raw, kind, KINDS[kind], where), at=text_of(raw, given[0], where),
        until=text_of(raw, "to", where), most=given == ("most_before",), reverse=reverse, **_axes(raw, where),
        shoulders=two["shoulders"], hips=two["hips"], side=_word(raw, "side", SIDES, where),
        unit=_unit(raw, kind, where),
    )  # fmt: skip


def _axes(raw: Mapping[str, Any], where: str) -> dict[str, str]:
    up, toward = _word(raw, "up", AXES, where), _word(raw, "toward", SIGNED, where)
    if up and up == toward.removeprefix("-"):
        raise MappingError(
            f"{where}, toward: {toward!r} is not level where {up!r} points up; name another axis"
        )
    return {"up": up, "toward": toward}


def _unit(raw: Mapping[str, Any], kind: str, where: str) -> str:
    return _word(raw, "unit", ("mm", "cm", "m") if kind == "ankles" else ("deg", "rad"), where)


def _word(raw: Mapping[str, Any], key: str, accepted: tuple[str, ...], where: str) -> str:
    if key not in raw:
        return ""
    word = text_of(raw, key, where)
    if word not in accepted:
        raise MappingError(f"{where}, {key}: {word!r} is not one of {', '.join(accepted)}")
    return word


def _ends(raw: Mapping[str, Any], key: str, n: int, where: str) -> Ends:
    """The markers of each end: a name, or several names whose middle it is."""
    given = raw[key]
    listed = [given] if key == "angle" else given
    ends = [[one] if isinstance(one, str) else one for one in listed] if isinstance(listed, list) else []
    good = len(ends) == n and all(
        isinstance(end, list) and end and all(isinstance(one, str) and one.strip() for one in end)
        for end in ends
    )
    if not good or len({tuple(end) for end in ends}) < n or (key == "angle" and len(ends[0]) > 1):
        order = _ORDER.get(key, '["right", "left"]')
        raise MappingError(
            f"{where}, {key}: {given!r} is not written like {order}; where an end is the middle of "
            'several markers, write them as a list, such as ["LASI", "RASI"]'
        )
    return tuple(tuple(end) for end in ends)
