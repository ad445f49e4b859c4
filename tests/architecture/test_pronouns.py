"""Athletes and staff are "they" in everything that is shown or read: screens, exports, errors, docs, docstrings."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
GENDERED = re.compile(r"\b(?:he|him|his|himself|she|her|hers|herself)\b", re.IGNORECASE)
KINDS = {".py", ".sql", ".md", ".toml", ".typ", ".html", ".css", ".json"}
PLACES = ("README.md", "DEVELOPERS.md", "docs", "pipeline", "dashboard", "seed_data")


def _files() -> list[Path]:
    result = [ROOT / place for place in PLACES]
    return sorted(
        path
        for place in result
        for path in ([place] if place.is_file() else place.rglob("*"))
        if path.suffix in KINDS and path.is_file()
    )


def test_the_search_finds_the_words_and_no_others() -> None:
    assert GENDERED.search("the athlete hides His mass")
    assert GENDERED.search("what she did")
    assert not GENDERED.search("the mass they hold there; a hernia; this; `test_of_his_own`")


def test_nothing_shown_or_read_calls_anybody_he_or_she() -> None:
    files = _files()
    assert len(files) > 300
    result = [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()[:100]}"
        for path in files
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if GENDERED.search(line)
    ]
    assert result == []
