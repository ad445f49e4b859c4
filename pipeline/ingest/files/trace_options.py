"""What a mapping says about traces beside their columns: the filter's cut-off, and what the file's name tells."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from latewood.pipeline.catalogue.handles import PEAK_SPEEDS
from latewood.pipeline.errors import FileUnreadableError, MappingError
from latewood.pipeline.ingest.files.fields import check_fields

NAMED = ("athlete", "measured_on", "trial")  # fields that may stand in a file's name
LOWEST_CUTOFF, HIGHEST_CUTOFF = 5.0, 40.0  # Hz; 100 samples a second show nothing above 50


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceOptions:
    """The [trace] table of a mapping; without a cut-off the tool's own is used."""

    cutoff_hz: float | None = None
    cutoff_source: str = ""
    file_name: str = ""
    hand: str = ""  # found by its headers only for athletes who throw, in a swing bat, with this hand

    def named(self, file_name: str) -> dict[str, str]:
        """The fields that the file's name tells.

        Raises FileUnreadableError where the name is not written as the mapping says.
        """
        if not self.file_name:
            return {}
        result = _pattern(self.file_name).fullmatch(file_name)
        if result is None:
            raise FileUnreadableError(
                f"{file_name}: is not named like {self.file_name!r}, as its mapping says; rename it, or correct "
                "file_name under [trace]"
            )
        return result.groupdict()


def trace_options(raw: Any, origin: str) -> TraceOptions:  # noqa: ANN401  what TOML gives
    """Return the [trace] table of a mapping. Raises MappingError."""
    if not isinstance(raw, Mapping):
        raise MappingError(f"{origin}, [trace]: is not a table; write cutoff_hz = 25 under a line [trace]")
    check_fields(raw, {"cutoff_hz", "cutoff_source", "file_name", "hand"}, f"{origin}, [trace]")
    cutoff, source, name = raw.get("cutoff_hz"), raw.get("cutoff_source", ""), raw.get("file_name", "")
    if not isinstance(source, str) or not isinstance(name, str):
        raise MappingError(f"{origin}, [trace]: cutoff_source and file_name are texts; put them in quotes")
    if cutoff is not None:
        number = isinstance(cutoff, int | float) and not isinstance(cutoff, bool)
        if not number or not LOWEST_CUTOFF <= cutoff <= HIGHEST_CUTOFF:
            raise MappingError(
                f"{origin}, [trace], cutoff_hz: {cutoff!r} is not a number from {LOWEST_CUTOFF:g} to {HIGHEST_CUTOFF:g}"
            )
        if not source:
            raise MappingError(
                f"{origin}, [trace]: a cut-off of your own needs cutoff_source: where it comes from"
            )
    _pattern(name, origin)
    hand = raw.get("hand", "")
    if hand not in ("", "right", "left"):
        raise MappingError(f"{origin}, [trace], hand: {hand!r} is not right or left")
    return TraceOptions(
        cutoff_hz=None if cutoff is None else float(cutoff), cutoff_source=source, file_name=name, hand=hand
    )


def check_trace_channels(
    blocks: Sequence[tuple[str, Sequence[str]]], origin: str, made: Collection[str] = ()
) -> None:
    """Raise MappingError where a channel of a trace is no segment's speed, or has more than one column.

    `made`: the columns that [angles] and [separation] compute; a measure that is no speed may stand in one of them.
    """
    for measure, columns in blocks:
        if measure not in PEAK_SPEEDS and len(columns) == 1 and columns[0] in made:
            continue
        if measure not in PEAK_SPEEDS:
            raise MappingError(
                f"{origin}, [[values]] {measure}: a trace has the rotational speed of segments, and the angles that a "
                f"table [angles.NAME] or [separation] computes; accepted speeds are {', '.join(PEAK_SPEEDS)}"
            )
        if len(columns) != 1:
            raise MappingError(f"{origin}, [[values]] {measure}: a channel of a trace stands in one column")


def _pattern(template: str, origin: str = "") -> re.Pattern[str]:
    """The file name as a pattern: fields in braces stand for what is not an underscore."""
    parts = re.split(r"\{(\w+)\}", template)
    fields = parts[1::2]
    wrong = next((f for f in fields if f not in NAMED or fields.count(f) > 1), None)
    if wrong is not None:
        raise MappingError(
            f"{origin}, [trace], file_name: {{{wrong}}} is not one of {', '.join(NAMED)}, each at most once"
        )
    texts = [f"(?P<{part}>[^_]+)" if i % 2 else re.escape(part) for i, part in enumerate(parts)]
    return re.compile("".join(texts), re.IGNORECASE)
