"""Fits the tables with R's lme4 and stores what it finds."""

import sys
import tempfile
from pathlib import Path

from tests.lme4 import SOURCES, STORED, fingerprint, fit_with_lme4, has_lme4, tables


def main() -> int:
    if not has_lme4():
        sys.stderr.write("no R with lme4 here; install it with: sh .ci/lme4\n")
        return 1
    made = tables()
    with tempfile.TemporaryDirectory() as folder:
        result, version = fit_with_lme4(made, Path(folder))
    result.to_csv(STORED, index=False)
    lines = [f"{version}, by: python -m tests.lme4", *(f"{k} {fingerprint(v)}" for k, v in made.items())]
    SOURCES.write_text("\n".join(lines) + "\n", encoding="utf-8")
    sys.stdout.write(f"{STORED.name}: {len(result)} values, {version}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
