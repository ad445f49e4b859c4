"""Writes docs/licences.md: the licence of every pinned package as its own metadata states it, and who needs it.

python -m tests.tools.licences --out docs/licences.md
"""

from __future__ import annotations

import argparse
import re
import tomllib
from collections.abc import Iterable, Mapping
from importlib import metadata
from pathlib import Path
from typing import Final

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT: Final = Path(__file__).parents[2]
USE: Final = "use"
NOT_STATED: Final = "not stated"
_PLAIN: Final = {
    "BSD License": "BSD", "MIT License": "MIT", "Apache Software License": "Apache", "ISC License (ISCL)": "ISC",
    "Mozilla Public License 2.0 (MPL 2.0)": "MPL-2.0", "GNU General Public License v3 (GPLv3)": "GPL-3.0",
}  # fmt: skip
_SHORT: Final = 40  # letters: a longer field holds the text of a licence and not its name
HEAD: Final = """# Licences of what is installed

Made by `python -m tests.tools.licences --out docs/licences.md` (`make docs`) from the metadata of the installed
packages; a test keeps it current. Listed is every package of `constraints.txt` with what brings it: `use` is an
installation without extras, else the extras that add it; what only `dev` brings is on no machine of a program. A
licence without a version is named so by its package. Latewood itself is Apache-2.0; its fonts have their licences in
`pipeline/pages/fonts/LICENSE.txt`.

| package | version | licence | brought by |
|---|---|---|---|
"""


def pins() -> dict[str, str]:
    """Every pinned package and its version."""
    lines = (ROOT / "constraints.txt").read_text(encoding="utf-8").split()
    return dict(line.split("==") for line in lines)


def licence_of(name: str) -> str:
    """The licence as a package states it: as an expression, as a short field, by classifier, or by its licence file."""
    stated = metadata.metadata(name)
    expression, field = stated.get("License-Expression"), (stated.get("License") or "").strip()
    if expression:
        return str(expression)
    classes = [
        c.rpartition(" :: ")[2] for c in stated.get_all("Classifier") or [] if c.startswith("License ::")
    ]
    if field and len(field) <= _SHORT:
        return field.replace("GNU GENERAL PUBLIC LICENSE", "GPL-3.0")
    if classes:
        return ", ".join(_PLAIN.get(one, one) for one in classes)
    return _of_file(name)


def _of_file(name: str) -> str:
    for path in metadata.files(name) or ():
        if path.name.upper().startswith(("LICENSE", "LICENCE")) and (
            text := path.locate().read_text("utf-8")
        ):
            first = next((line.strip() for line in text.splitlines() if line.strip()), "")
            return f"{first} (its file)" if "icense" in first else NOT_STATED
    return NOT_STATED


def brought_by() -> dict[str, set[str]]:
    """For every pinned package the extras that bring it, and USE where an installation without extras does."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    starts = {USE: project["dependencies"], **project["optional-dependencies"]}
    known = {canonicalize_name(name): name for name in pins()}
    result: dict[str, set[str]] = {name: set() for name in known.values()}
    for start, lines in starts.items():
        for name in _closure(lines, known):
            result[name].add(start)
    return result


def _closure(lines: Iterable[str], known: Mapping[str, str]) -> set[str]:
    """The pinned packages behind requirements, whatever the platform; markers count for extras only."""
    waiting, seen = [Requirement(line) for line in lines], set()
    while waiting:
        one = waiting.pop()
        name = known.get(canonicalize_name(one.name))
        if name is None or (name, frozenset(one.extras)) in seen:
            continue
        seen.add((name, frozenset(one.extras)))
        for line in metadata.requires(name) or ():
            asked = re.findall(r"extra\s*==\s*['\"]([^'\"]+)['\"]", line)
            if not asked or set(asked) & one.extras:
                waiting.append(Requirement(line))
    return {name for name, _ in seen}


def page() -> str:
    """The page as Markdown."""
    rows = []
    for (name, version), starts in zip(pins().items(), brought_by().values(), strict=True):
        who = USE if USE in starts else ", ".join(sorted(starts)) or "the tools of dev"
        rows.append(f"| {name} | {version} | {licence_of(name)} | {who} |\n")
    return HEAD + "".join(rows)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True)
    parser.parse_args().out.write_text(page(), encoding="utf-8")
