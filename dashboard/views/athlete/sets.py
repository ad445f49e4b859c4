"""What a maximum was estimated from: a set of several repetitions is never shown as a lift."""

from __future__ import annotations

from collections.abc import Sequence

from latewood.dashboard.reads.rows import SessionValue
from latewood.dashboard.text.wording import count_of
from latewood.dashboard.views.lookup import Lookup


def set_note(value: SessionValue, lookup: Lookup) -> str:
    """'estimated from 259 lb × 5' where a maximum was not lifted; else ''."""
    if value.set_load is None or value.set_reps is None:
        return ""
    one = "" if value.value == value.best else "best "
    return f"{one}estimated from {lookup.scale(value.measure).text(value.set_load)} × {value.set_reps}"


def estimated_words(values: Sequence[SessionValue]) -> str:
    """How many of the values were estimated from sets of several repetitions; '' where none was."""
    n = sum(value.set_reps is not None for value in values)
    return f"{n} of {count_of(len(values), 'value')} estimated from sets of several repetitions" if n else ""
