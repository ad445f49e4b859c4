"""The page of docs/reliability.md, from the figures of the last runs."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from tests.reliability.kill import ACTIONS, BEFORE, MOMENT, TORN


def page(found: Mapping[str, Any]) -> str:
    """The whole page as Markdown."""
    text = Path(__file__).with_name("page.md").read_text(encoding="utf-8")
    parts = {
        "kills": _kills(found.get("kills")),
        "files": _files(found.get("files")),
        "typed": _typed(found.get("typed")),
    }
    for key, paragraphs in parts.items():
        text = text.replace(f"{{{key}}}", "\n\n".join(paragraphs))
    return text


def _machine(part: Mapping[str, Any]) -> str:
    m = part["machine"]
    return (
        f"{m['cores']} cores, {m['arch']}, {m['system']}, Python {m['python']}, DuckDB {m['duckdb']}; "
        f"seed {part['seed']}; {part['seconds']:,} s on a machine that had other work to do."
    )


def _kills(part: Mapping[str, Any] | None) -> tuple[str, ...]:
    if part is None:
        return ("Not run yet.",)
    counts = {(action, how): n for action, how, n in part["killed"]}
    ways = (BEFORE, TORN, MOMENT)
    rows = [f"| action | {' | '.join(ways)} | ended before the kill |", "|---|--:|--:|--:|--:|"]
    for action in ACTIONS:
        cells = " | ".join(str(counts.get((action, way), "")) for way in ways)
        rows.append(f"| {action} | {cells} | {part['ended'].get(action, '')} |")
    words = (
        f"{part['runs']} runs, {sum(counts.values())} of them killed. {part['acknowledged']} actions were told as "
        f"done; after every run all of them were there. The audit log was left with a torn line {part['torn']} times; "
        f"{part['mended']} lines in it say that one was cut off."
    )
    return (_machine(part), "\n".join(rows), words, *_wrong(part))


def _files(part: Mapping[str, Any] | None) -> tuple[str, ...]:
    if part is None:
        return ("Not run yet.",)
    rows = "\n".join((
        "| | |", "|---|--:|",
        f"| files damaged and imported | {part['files']:,} |",
        f"| refused whole, in one line that names the file | {part['refused']:,} |",
        f"| taken in | {part['taken']:,} |",
        f"| of these, rows counted by other code too | {part['counted_apart']:,} |",
        f"| rows in | {part['rows_in']:,} |",
        f"| rows taken | {part['rows_taken']:,} |",
        f"| rows held for a decision | {part['rows_held']:,} |",
        f"| rows recognised as already there | {part['rows_recognised']:,} |",
        f"| rows rejected | {part['rows_rejected']:,} |",
    ))  # fmt: skip
    return (_machine(part), rows, *_wrong(part))


def _typed(part: Mapping[str, Any] | None) -> tuple[str, ...]:
    if part is None:
        return ("Not run yet.",)
    words = (
        f"{part['weighins']} weigh-ins while {part['builds']} builds ran: saved and shown in {part['median']:.2f} s "
        f"(median), {part['slowest_twentieth']:.2f} s (95 of 100), with the builds on the same cores. {part['built']} "
        f"were in the build after the last; {part['shown']} were shown before it."
    )
    return (_machine(part), words, *_wrong(part))


def _wrong(part: Mapping[str, Any]) -> tuple[str, ...]:
    if not part["wrong"]:
        return ("Found wrong: nothing.",)
    return ("Found wrong:", "\n".join(f"- `{' '.join(text.split())[:400]}`" for text in part["wrong"]))
