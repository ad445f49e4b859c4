"""Proposes what of a motion file needs the athlete's hand: arms, separation, angles and lengths at events."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from latewood.pipeline.catalogue.handles import HIP_SHOULDER_SEPARATION, STRIDE_LENGTH
from latewood.pipeline.catalogue.units import find_unit
from latewood.pipeline.ingest.files.motion import AXES, Motion
from latewood.pipeline.ingest.files.motion_angle_options import SIGNED
from latewood.pipeline.ingest.files.motion_options import FEWEST_MARKERS, SEPARATION
from latewood.pipeline.ingest.look import columns as col
from latewood.pipeline.ingest.look.proposal import ASKED, LEAVE, ColumnLook
from latewood.pipeline.ingest.people.hands import HANDS, hand_in
from latewood.pipeline.stats.engine.mixed_sums import Floats
from latewood.pipeline.stats.movement.peak_order import CHAINS

# Names that many capture programs give to joints, behind a letter for the side; common practice, no source.
PLACES = {
    "shoulder": ("sho", "shoulder", "acr"), "elbow": ("elb", "elbow", "ejc"), "hip": ("hip", "hjc"),
    "front of the pelvis": ("asi", "asis"), "knee": ("kne", "knee", "kjc"), "ankle": ("ank", "ankle", "ajc"),
}  # fmt: skip
INNER_OUTER = ("", "m", "l", "med", "lat", "medial", "lateral")
ARMS = {
    "upper_arm": ("elb", "elbm", "elbl", "upa", "upb", "upc", "upperarm"),
    "forearm": ("elb", "elbm", "elbl", "fra", "frb", "frc", "frm", "wra", "wrb", "forearm"),
    "hand": ("wra", "wrb", "fin", "hnd", "hand"),
}
ARMS["lead_arm"] = ARMS["upper_arm"]
IF_FEWER = {"upper_arm": ("sho",), "lead_arm": ("sho",)}  # on the trunk, and moves a little against the arm
TAKE, NO_EVENT = "take it", "no event"
ABDUCTION = "shoulder_abduction_landing"
Rule = dict[str, object]
PLANT_WORDS = ("plant", "strike", "landing", "foot contact", "touchdown")
OTHER = {"right": "left", "left": "right"}
BENT_UP, BENT_DOWN = "positive when bent", "negative when bent"
CLEAR = 2.0  # times so far along one axis as along any other, and it is proposed as up or forward


def plainly(text: str) -> str:
    """A name without case, marks and what stands before a colon.

    >>> plainly("Subject:R_ELB")
    'relb'
    """
    return re.sub(r"[^a-z0-9]", "", text.rsplit(":", 1)[-1].casefold())


@dataclass(slots=True, kw_only=True)
class SidedPlan:
    """What is proposed for one hand: tables of the mapping, values with column and unit, and columns as shown."""

    hand: str = ""
    possible: bool = False  # more may come of it once it is known what was done
    tables: dict[str, Rule] = field(default_factory=dict)
    values: list[tuple[str, str, str]] = field(default_factory=list)
    columns: list[ColumnLook] = field(default_factory=list)

    @property
    def used(self) -> frozenset[str]:
        """The points and channels that its tables name."""
        found: set[str] = set()
        pending: list[object] = [v for rule in self.tables.values() for v in rule.values()]
        while pending:
            one = pending.pop()
            pending += one if isinstance(one, list) else []
            found |= {one} if isinstance(one, str) else set()
        return frozenset(found)

    def add(self, table: str, rule: Rule, measure: str, unit: str, why: str) -> None:
        """A table and the value read from its column."""
        column = table.rpartition(".")[2] if table != "separation" else SEPARATION
        self.tables[table] = rule
        self.values.append((measure, column, unit))
        self.columns.append(
            ColumnLook(header=column, target=measure, unit=unit, certainty=ASKED, reason=why, role="measure")
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """What was done, by whom, and the file's words for the landing of the front foot and for release or contact."""

    action: str
    athlete: str
    finish: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """The points of each place by side, and the file's own knee angle by side ('' without one)."""

    ends: Mapping[str, Mapping[str, list[str]]]
    knees: Mapping[str, str]

    def pair(self, place: str) -> list[list[str]]:
        """The right and the left end; empty where one of them is not there."""
        sides = self.ends[place]
        return [sides[side] for side in HANDS] if all(sides.values()) else []

    @property
    def hips(self) -> list[list[str]]:
        """Both ends of the line of the hips."""
        return self.pair("front of the pelvis") or self.pair("hip")

    @property
    def shoulders(self) -> list[list[str]]:
        """Both ends of the line of the shoulders."""
        return self.pair("shoulder")

    @property
    def legs(self) -> bool:
        """Whether both knees can be told, by points or by angles of the file."""
        return all(self.knees.values()) or all(self.pair(place) for place in ("hip", "knee", "ankle"))

    @property
    def placed(self) -> bool:
        """Whether something is told that needs the axes of the room."""
        return bool(self.pair("ankle") or (self.hips and self.shoulders))


def plan_sides(motion: Motion, moment: Moment, taken: Sequence[str], look: col.Look) -> SidedPlan:
    """Return what is proposed for the athlete's hand; nothing where the file has no markers or angles for it.

    `taken`: segments that are made already.
    """
    chain = CHAINS.get(moment.action, (*ARMS,))
    arms = [s for s in chain if s in ARMS and s not in taken and _has_arm(motion, s)]
    body = _body(motion)
    angled = bool(motion.events) and (body.legs or body.placed)
    if not moment.action or not (arms or angled):
        return SidedPlan(possible=bool(arms or angled))
    plan = SidedPlan(hand=_hand(moment, look))
    for segment in arms:
        _add_arm(plan, segment, motion, look)
    text = "Take angles and lengths at events too (knees, trunk, separation, stride: what the markers allow)?"
    if angled and look.ask("angles", text, (TAKE, LEAVE), TAKE) == TAKE:
        _add_angles(plan, motion, moment, body, look)
    return plan if plan.tables else replace(plan, hand="")


def _hand(moment: Moment, look: col.Look) -> str:
    """Asked for each athlete alone, unless the roster says."""
    known = hand_in(moment.action, moment.athlete, look.known.sides)
    who = look.known.shown.get(moment.athlete, "the athlete")
    verb = "bat" if moment.action == "swing" else "throw"
    put, more = (look.offer, f" The roster says {known}.") if known else (look.ask, "")
    key = f"hand of {moment.athlete or 'the athlete'}"
    return put(key, f"With which hand does {who} {verb}?{more}", HANDS, known)


def _body(motion: Motion) -> Body:
    words = {place: [word + more for word in PLACES[place] for more in INNER_OUTER] for place in PLACES}
    return Body(
        ends={place: {side: _on_side(motion, side, words[place]) for side in HANDS} for place in PLACES},
        knees={side: _knee_angle(motion, side) for side in HANDS},
    )


def _on_side(motion: Motion, side: str, words: Sequence[str]) -> list[str]:
    """The points named by a side (its letter or word, first or last) and one of some words."""
    form = _sided(side, words)
    return [one for one in motion.points if not motion.units.get(one) and form.fullmatch(plainly(one))]


def _sided(side: str, words: Sequence[str]) -> re.Pattern[str]:
    any_of, near = "|".join(words), f"{side[0]}|{side}"
    return re.compile(f"(?:{near})(?:{any_of})|(?:{any_of})(?:{near})")


def _knee_angle(motion: Motion, side: str) -> str:
    """The file's own angle of a knee: a channel, or the first of a point's three."""
    if motion.per_frame > 1:
        return ""
    form = _sided(side, ("kneeangles?", "kneeflexion"))
    channels = [c for c in motion.channels if _is_angle(motion, c) and form.fullmatch(plainly(c))]
    points = [f"{p} x" for p in motion.points if _is_angle(motion, p) and form.fullmatch(plainly(p))]
    found = [*channels, *points]
    return found[0] if len(found) == 1 else ""


def _is_angle(motion: Motion, name: str) -> bool:
    unit = find_unit(motion.units.get(name, "")) if motion.units.get(name) else None
    return unit is not None and unit.symbol in ("deg", "rad")


def _has_arm(motion: Motion, segment: str) -> bool:
    return all(len(_arm(motion, side, segment)) >= FEWEST_MARKERS for side in HANDS)


def _arm(motion: Motion, side: str, segment: str) -> list[str]:
    own = _on_side(motion, side, ARMS[segment])
    more = IF_FEWER.get(segment, ())
    return own if len(own) >= FEWEST_MARKERS or not more else _on_side(motion, side, (*ARMS[segment], *more))


def _add_arm(plan: SidedPlan, segment: str, motion: Motion, look: col.Look) -> None:
    side = OTHER.get(plan.hand, "left") if segment == "lead_arm" else plan.hand or "right"
    own = _arm(motion, side, segment)
    text = f"Does the {segment.replace('_', ' ')} turn as {', '.join(own)} do? They may not lie on one line."
    if look.ask(f"{segment}: markers", text, (TAKE, LEAVE), TAKE) != TAKE or not plan.hand:
        return
    why = f"{', '.join(own)}, by your answer; its speed is the magnitude"
    plan.add(f"segments.{segment}", {"markers": own}, f"{segment}_peak_speed", "deg/s", why)


def _add_angles(plan: SidedPlan, motion: Motion, moment: Moment, body: Body, look: col.Look) -> None:
    landing = _landing(motion, plan.hand, look)
    finish = moment.finish if moment.finish != landing else ""
    up = _up(motion, body, look) if body.placed else ""
    tilted = bool(finish and body.hips and body.shoulders)
    forward = _forward(motion, body, up, look) if tilted and up else ""
    if not plan.hand:
        return
    if body.legs:
        _add_knees(plan, motion, body, (landing, finish), look)
    if up and landing:
        _add_landing(plan, motion, moment, body, (up, landing))
    if forward:
        left = (plan.hand == "right") == (
            moment.action != "swing"
        )  # away from the arm; of a bat, toward the plate
        for key, toward in (
            ("trunk_forward_tilt", forward),
            ("trunk_side_tilt", _aside(up, forward, left=left)),
        ):
            line = [[p for end in ends for p in end] for ends in (body.hips, body.shoulders)]
            rule: Rule = {"line": line, "up": up, "toward": toward, "at": finish}
            plan.add(
                f"angles.{key}", rule, key, "deg", f"trunk from the vertical toward {toward} at {finish!r}"
            )


def _add_landing(plan: SidedPlan, motion: Motion, moment: Moment, body: Body, where: tuple[str, str]) -> None:
    """What is read when the front foot lands: stride, separation, the upper arm of a throw."""
    up, landing = where
    length = find_unit(motion.point_unit) if motion.point_unit else None
    if body.pair("ankle") and length is not None and length.quantity == "length":
        stride: Rule = {"ankles": body.pair("ankle"), "up": up, "at": landing}
        plan.add(f"angles.{STRIDE_LENGTH}", stride, STRIDE_LENGTH, "cm", f"between the ankles at {landing!r}")
    if not (body.hips and body.shoulders):
        return
    if all(len(end) == 1 for end in (*body.hips, *body.shoulders)):
        separation: Rule = {
            "hips": [h[0] for h in body.hips], "shoulders": [s[0] for s in body.shoulders], "up": up, "at": landing,
            "turns": OTHER[plan.hand],
        }  # fmt: skip
        why = f"line of the hips against that of the shoulders at {landing!r}"
        plan.add("separation", separation, HIP_SHOULDER_SEPARATION, "deg", why)
    elbow = body.ends["elbow"][plan.hand]
    if elbow and moment.action == "throw":
        arm: Rule = {
            "arm": [body.ends["shoulder"][plan.hand], elbow], "shoulders": body.shoulders, "hips": body.hips,
            "side": plan.hand, "at": landing,
        }  # fmt: skip
        plan.add(f"angles.{ABDUCTION}", arm, ABDUCTION, "deg", f"the {plan.hand} upper arm at {landing!r}")


def _add_knees(plan: SidedPlan, motion: Motion, body: Body, events: tuple[str, str], look: col.Look) -> None:
    landing, finish = events
    front, drive = OTHER[plan.hand], plan.hand
    bent = {side: _bend(body, motion, side, look) for side in (front, drive)}
    rules = {
        "front_knee_landing": (front, {"at": landing} if landing else {}),
        "front_knee_finish": (front, {"at": finish} if finish else {}),
        "front_knee_extension": (front, {"from": landing, "to": finish} if landing and finish else {}),
        "drive_leg_knee": (drive, {"most_before": landing} if landing else {}),
    }
    for key, (side, when) in rules.items():
        if bent[side] and when:
            why = f"the {side} knee, {', '.join(f'{word} {at!r}' for word, at in when.items()).replace('_', ' ')}"
            plan.add(f"angles.{key}", {**bent[side], **when}, key, "deg", why)


def _bend(body: Body, motion: Motion, side: str, look: col.Look) -> Rule:
    """How the bend of a knee is read: from three places, else from the file's own angle, whose sign is asked."""
    joint = [body.ends[place][side] for place in ("hip", "knee", "ankle")]
    if all(joint):
        return {"joint": joint}
    name = body.knees[side]
    values = (
        motion.channels[name] if name in motion.channels else motion.points[name.removesuffix(" x")][:, 0]
    )
    likely = BENT_UP if np.nanmax(values) >= -np.nanmin(values) else BENT_DOWN
    text = f"How does {name!r} count? It goes from {np.nanmin(values):.3g} to {np.nanmax(values):.3g}."
    answer = look.ask(f"{name}: sign", text, (BENT_UP, BENT_DOWN, LEAVE), likely)
    if answer not in (BENT_UP, BENT_DOWN):
        return {}
    return {"angle": name, **({"reverse": True} if answer == BENT_DOWN else {})}


def _landing(motion: Motion, hand: str, look: col.Look) -> str:
    """The file's word for the landing of the front foot; asked where not exactly one event is called so."""
    words = list(dict.fromkeys(word for word, _ in motion.events))
    near = [w for w in words if any(one in w.casefold() for one in PLANT_WORDS)]
    front = [w for w in near if hand and OTHER[hand] in w.casefold()]
    if len(near) == 1:
        return near[0]
    if not near:
        return ""
    proposed = front[0] if len(front) == 1 else ""
    answer = look.ask("landing", "Which event is the landing of the front foot?", (*near, NO_EVENT), proposed)
    return "" if answer == NO_EVENT else answer


def _up(motion: Motion, body: Body, look: col.Look) -> str:
    high = body.shoulders or body.hips or body.pair("knee")
    low = body.pair("ankle") or body.hips
    along = _middle(motion, high) - _middle(motion, low) if high and low else np.zeros((1, 3))
    proposed = _axis(np.nanmean(along, axis=0)) if np.isfinite(along).any() else ""
    return look.ask("up", "Which axis of the room points up?", AXES, proposed if proposed in AXES else "")


def _forward(motion: Motion, body: Body, up: str, look: col.Look) -> str:
    """The level axis toward the target; proposed where the hips clearly travel along one."""
    path = _middle(motion, body.hips)
    path = path[np.isfinite(path).all(axis=1)]
    moved = path[-1] - path[0] if len(path) else np.zeros(3)
    moved[AXES.index(up)] = 0.0
    level = [axis for axis in SIGNED if axis.removeprefix("-") != up]
    return look.ask("forward", "Which axis of the room points toward the target?", level, _axis(moved))


def _middle(motion: Motion, ends: Sequence[Sequence[str]]) -> Floats:
    result: Floats = np.mean([motion.points[name] for end in ends for name in end], axis=0)
    return result


def _axis(along: Floats) -> str:
    """The axis that a direction clearly follows, with its sign; '' where none."""
    far = np.sort(np.abs(along))
    if not np.isfinite(far).all() or far[-1] == 0 or far[-1] < CLEAR * far[-2]:
        return ""
    at = int(np.abs(along).argmax())
    return AXES[at] if along[at] > 0 else f"-{AXES[at]}"


def _aside(up: str, forward: str, *, left: bool) -> str:
    """The axis to the left, or the right, of somebody who looks forward."""
    unit = np.eye(3)
    ahead = unit[AXES.index(forward.removeprefix("-"))] * (-1 if forward.startswith("-") else 1)
    return _axis(np.cross(unit[AXES.index(up)], ahead) * (1 if left else -1))
