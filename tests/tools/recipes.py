"""Follows the recipes of the page for contributors: their blocks say what is put into which file."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).parents[2]
TITLES: Final = (
    "Add a measure",
    "Add a row rule",
    "Add a result",
    "Add a device family",
    "Add a command",
    "Add a screen",
)
BLOCK: Final = re.compile(
    r"^```\w+ (add|after|before|instead of) (?:`([^`\n]+)` in )?(\S+)\n(.*?)^```$", re.MULTILINE | re.DOTALL
)


def blocks(title: str) -> list[tuple[str, str, str, str]]:
    """The blocks of one recipe: how, the line it goes by, the file, and the text."""
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    return BLOCK.findall(page.split(f"\n## {title}\n")[1].split("\n## ")[0])


def touched(title: str) -> tuple[str, ...]:
    """The files that one recipe touches, tests among them."""
    return tuple(sorted({name for _, _, name, _ in blocks(title)}))


def follow(title: str, copy: Path) -> tuple[str, ...]:
    """Do what the blocks of a recipe say in the copy; the files touched."""
    for how, mark, name, text in blocks(title):
        path = copy / name
        if how == "add":
            before = path.read_text(encoding="utf-8") if path.exists() else ""
            path.write_text(before + text, encoding="utf-8")
            continue
        lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
        at = [i for i, line in enumerate(lines) if mark in line]
        assert len(at) == 1, f"{name}: {mark!r} stands on {len(at)} lines"
        kept = {"after": slice(at[0] + 1, at[0] + 1), "before": slice(at[0], at[0])}
        lines[kept.get(how, slice(at[0], at[0] + 1))] = [text]
        path.write_text("".join(lines), encoding="utf-8")
    return touched(title)
