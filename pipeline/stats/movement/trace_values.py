"""What is read from one trace of rotational speed, and how it is read."""

from __future__ import annotations

from dataclasses import dataclass

MEASURED, MISSING = "measured", "missing"
AS_WORN, SOME_REVERSED, ALL_REVERSED, UNKNOWN = "as worn", "some reversed", "all reversed", "not known"


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceSettings:
    """How traces are filtered and what is doubted. Speeds in deg/s, times in s."""

    cutoff_hz: float = 25.0  # where the whole filter, run forward and back, halves the power; docs/methods.md
    order: int = 2  # of the Butterworth filter; forward and back it falls off like one of twice the order
    side_ratio: float = 1.3  # the larger side must pass the other by this much before a direction is named
    before_event: float = 1.0  # where a peak is looked for, seconds before the event
    after_event: float = 0.1
    longest_gap: float = 0.05  # a whole peak fits into a longer one


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceClock:
    """The sampling of one trace. Unusable clocks say why in `reason`; the rest is told in `remarks`."""

    usable: bool
    unit: str  # 's', 'ms' or '' where the file's unit cannot be found
    rate_hz: float | None
    n_samples: int
    seconds: float | None
    jitter_ms: float | None  # SD of the stamps about a smooth clock
    drift_percent: float | None  # by how much the sampling interval grew from the first sample to the last
    n_duplicate: int  # the same time again; the first sample is kept
    n_backward: int
    n_skipped: int  # samples that the clock passed over
    reason: str
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SegmentPeak:
    """One channel: its largest rotational speed with its sign as worn, or the reason why there is none."""

    segment: str
    state: str  # MEASURED or MISSING
    speed: float | None  # deg/s, negative where the channel turns the other way
    seconds: float | None  # on the file's clock, between samples by a parabola
    speed_error: float | None  # SD that the channel's own noise leaves in the speed
    seconds_error: float | None  # the same in the time
    opposite: float | None  # largest speed the other way, with its sign
    noise: float | None  # SD of the raw samples about the filtered curve
    n_lost: int  # samples missing, held at one value, or zero amid movement
    reason: str
    remarks: tuple[str, ...]

    @property
    def reversed(self) -> bool:
        """Whether the channel's peak is negative: a sensor worn the other way round, or a left-handed athlete."""
        return self.speed is not None and self.speed < 0

    @property
    def magnitude(self) -> float | None:
        """The speed without its sign."""
        return None if self.speed is None else abs(self.speed)


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceReading:
    """One swing, throw or pitch as its trace shows it."""

    clock: TraceClock
    peaks: tuple[SegmentPeak, ...]
    side: str  # AS_WORN, SOME_REVERSED, ALL_REVERSED or UNKNOWN

    @property
    def measured(self) -> tuple[SegmentPeak, ...]:
        """The channels that have a peak."""
        return tuple(peak for peak in self.peaks if peak.state == MEASURED)
