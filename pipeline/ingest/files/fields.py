"""Fields of a mapping as TOML gives them: known ones only, and a text where one is meant."""

from __future__ import annotations

from collections.abc import Mapping, Set
from typing import Any

from latewood.pipeline.errors import MappingError


def check_fields(raw: Mapping[str, Any], known: Set[str], where: str) -> None:
    """Raise MappingError for the first field of a table that is not known."""
    unknown = sorted(set(raw) - known)
    if unknown:
        raise MappingError(f"{where}, {unknown[0]}: no such field; accepted are {', '.join(sorted(known))}")


def text_of(raw: Mapping[str, Any], key: str, where: str) -> str:
    """The text of a field, '' where it is not given. Raises MappingError where it is none."""
    value = raw.get(key, "")
    if not isinstance(value, str):
        raise MappingError(f"{where}, {key}: {value!r} is not a text; put it in quotes")
    return value
