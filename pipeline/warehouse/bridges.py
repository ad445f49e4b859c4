"""Offsets between lines that were measured both ways on one day, and which of them may be used."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from latewood.pipeline.catalogue.lookup import parse_line
from latewood.pipeline.catalogue.model import Catalogue

BRIDGE_PAIRS = 15


def bridges(pairs: pd.DataFrame, catalogue: Catalogue) -> pd.DataFrame:
    """Return the offsets between lines measured both ways, and which may be used.

    `pairs` has measure, from_line, to_line (used later), n, shift, shift_sd. Listed are pairs of lines that
    differ in one condition that the catalogue calls bridgeable; used are those with at least 15 pairs.
    """
    records = [_bridge(row) for row in pairs.to_dict("records") if _may_be_joined(row, catalogue)]
    return _one_step(pd.DataFrame(records))


def _may_be_joined(row: Mapping[Hashable, Any], catalogue: Catalogue) -> bool:
    bridgeable = {c.key for c in catalogue.measures[row["measure"]].conditions if c.bridgeable}
    differing = _differing(row["from_line"], row["to_line"])
    return len(differing) == 1 and differing[0] in bridgeable


def _bridge(row: Mapping[Hashable, Any]) -> dict[str, object]:
    enough = row["n"] >= BRIDGE_PAIRS
    return {
        "measure": row["measure"],
        "from_line": row["from_line"],
        "to_line": row["to_line"],
        "shift": row["shift"],
        "shift_se": row["shift_sd"] / math.sqrt(row["n"]),
        "n_pairs": row["n"],
        "usable": enough,
        "reason": f"measured both ways on the same day, {row['n']} pairs"
        if enough
        else f"only {row['n']} pairs; {BRIDGE_PAIRS} are needed",
    }


def _one_step(found: pd.DataFrame) -> pd.DataFrame:
    """Keep one usable bridge a line, the one with most pairs, and none that leads to a line that moves on."""
    if found.empty:
        return found
    usable = found[found["usable"]].sort_values(
        ["measure", "from_line", "n_pairs"], ascending=[True, True, False]
    )
    chosen = usable.drop_duplicates(["measure", "from_line"])
    moving = set(zip(chosen["measure"], chosen["from_line"], strict=True))
    ends = [k for k in zip(chosen["measure"], chosen["to_line"], strict=True)]
    kept = chosen.index[[end not in moving for end in ends]]
    passed_over = found["usable"] & ~found.index.isin(kept)
    found.loc[passed_over, "reason"] = "another bridge of this line is used"
    found["usable"] = found.index.isin(kept)
    return found


def _differing(one: str, other: str) -> list[str]:
    first, second = parse_line(one), parse_line(other)
    return sorted(k for k in first.keys() | second.keys() if first.get(k) != second.get(k))
