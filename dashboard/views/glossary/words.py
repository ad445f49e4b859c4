"""What the glossary lists: terms and measures, found by part of a word."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from latewood.pipeline.catalogue.model import Catalogue

Pair = tuple[str, str]


def matching(pairs: Iterable[Pair], asked: str) -> tuple[Pair, ...]:
    """The pairs by name whose name or sentence holds the letters asked for; all where nothing is asked."""
    wanted = asked.strip().lower()
    result = (pair for pair in pairs if wanted in f"{pair[0]} {pair[1]}".lower())
    return tuple(sorted(result, key=lambda pair: pair[0].lower()))


def build_measures(catalogue: Catalogue) -> Mapping[str, tuple[Pair, ...]]:
    """Name and protocol of every measure, by kind."""
    result: dict[str, list[Pair]] = {}
    for measure in catalogue.measures.values():
        result.setdefault(measure.family, []).append((measure.label, measure.protocol))
    return {family: tuple(pairs) for family, pairs in result.items()}
