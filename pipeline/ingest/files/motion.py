"""A motion file as it is: points, channels, angles over time, events, subjects; what they mean is asked elsewhere."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.stats.engine.mixed_sums import Floats

LARGEST_MOTION = 200_000_000  # bytes; one trial with a hundred markers and as many channels has a few million
LONGEST_MOTION = 60_000  # frames or samples; a minute at 1000 a second
AXES = ("x", "y", "z")  # of the room
SHOWN = 12  # names of a kind in a sentence


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """One recording. Points and angles stand on `seconds`; channels have `per_frame` samples for each of them.

    `points`: (n, 3), NaN where not seen. `channels`: (n * per_frame,). `units` by name, '' where the file states none.
    `events`: (word, s) on the clock of `seconds`.
    """

    form: str
    title: str
    seconds: Floats
    points: Mapping[str, Floats]
    channels: Mapping[str, Floats]
    per_frame: int = 1
    units: Mapping[str, str] = field(default_factory=dict)
    point_unit: str = ""
    events: tuple[tuple[str, float], ...] = ()
    subjects: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    angles_only: bool = False  # the channels are angles, and no speeds

    @property
    def rate(self) -> float:
        """Frames a second."""
        return float(1 / np.median(np.diff(self.seconds)))

    @property
    def fast_seconds(self) -> Floats:
        """The times of the channels' samples, s."""
        steps = np.arange(len(self.seconds) * self.per_frame)
        result: Floats = self.seconds[0] + steps / (self.rate * self.per_frame)
        return result if self.per_frame > 1 else self.seconds


def described(motion: Motion) -> tuple[str, ...]:
    """What a motion file holds, in plain words."""
    n, last = len(motion.seconds), motion.seconds[-1] - motion.seconds[0]
    result = [f"{motion.form}: {n} frames, {motion.rate:g} a second, {last:.2f} s"]
    if motion.subjects:
        result.append(f"subject: {', '.join(motion.subjects)}")
    if motion.points:
        unit = f" in {motion.point_unit}" if motion.point_unit else ""
        result.append(f"{len(motion.points)} points{unit}: {_some(motion.points)}")
        unseen = [k for k, v in motion.points.items() if np.isnan(v).any()]
        if unseen:
            result.append(f"{len(unseen)} points are not seen in every frame: {_some(unseen)}")
    if motion.channels:
        words = (f"{k} ({motion.units[k]})" if motion.units.get(k) else k for k in motion.channels)
        rate = f", {motion.rate * motion.per_frame:g} samples a second" if motion.per_frame > 1 else ""
        kind = "angles" if motion.angles_only else "channels"
        result.append(f"{len(motion.channels)} {kind}{rate}: {_some(words)}")
    events = ", ".join(f"{word} at {at:.3f} s" for word, at in motion.events)
    result.append(f"events: {events}" if events else "no event is marked")
    return (*result, *motion.notes)


def time_of(name: str, motion: Motion, event: str, where: str) -> float:
    """When an event was, s on the file's clock. Raises FileUnreadableError where the file does not mark it."""
    for word, at in motion.events:
        if word.casefold() == event.casefold():
            return at
    marked = ", ".join(word for word, _ in motion.events) or "none"
    raise FileUnreadableError(
        f"{name}: marks no event {event!r} (it marks {marked}); mark it in the capture software, correct at "
        f"under {where}, or take {where} out of the mapping"
    )


def check_size(name: str, content: bytes) -> None:
    """Raise FileUnreadableError where a motion file is larger than any trial."""
    if len(content) > LARGEST_MOTION:
        raise FileUnreadableError(
            f"{name}: is larger than {LARGEST_MOTION / 1e6:.0f} MB; export each trial to a file of its own"
        )


def check_length(name: str, n_frames: int) -> None:
    """Raise FileUnreadableError where a recording is too short to have a speed, or longer than any trial."""
    if n_frames > LONGEST_MOTION:
        raise FileUnreadableError(
            f"{name}: has {n_frames:,} frames, more than {LONGEST_MOTION:,}; cut the trial out and export it alone"
        )
    if n_frames < 3:
        raise FileUnreadableError(f"{name}: has {n_frames} frames; export the whole trial")


def _some(names: Iterable[str]) -> str:
    listed = list(names)
    more = f" and {len(listed) - SHOWN} more" if len(listed) > SHOWN else ""
    return ", ".join(listed[:SHOWN]) + more
