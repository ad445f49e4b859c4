"""The table of aims in one run, on the demo and on a folder of invented readings: `python -m tests.bench.speed`.

`--readings 1000000` says how many, `--more 10000000` builds a larger folder once, `--out docs/speed.md` writes the
page. Each line is measured in a process of its own, one after the other.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.bench import speed_parts as parts
from tests.bench.growth import exponents

SHEETS, LINES, ATHLETES, MANY = 38, 1_000_000, 10_000, 100_000
MILLION = 900_000  # readings from which the goals for a million are judged; a smaller folder is only told


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """One line of the table: what was measured where, and the goal (None: only told), in one unit.

    Less is better, or more.
    """

    what: str
    where: str
    measured: float | None  # None: not measured, `beside` says why
    goal: float | None
    unit: str
    beside: str = ""
    more: bool = False

    @property
    def verdict(self) -> str:
        """Whether the goal is reached, in words."""
        if self.goal is None:
            return ""
        if self.measured is None:
            return "not run"
        return (
            "met" if (self.measured >= self.goal if self.more else self.measured <= self.goal) else "not met"
        )


Rows = dict[int, float]  # CPU seconds of reading, checking and storing so many readings


def folder_aims(where: str, root: Path, size: int | None, rows: Rows) -> Iterator[Aim]:
    """The lines of one folder, landed and never built: the demo (None), or so many invented readings."""
    is_demo, is_million = size is None, size is not None and size >= MILLION
    first = parts.command("build", "--data", str(root))
    scan = parts.bare_scan(root)
    yield Aim(what="first build", where=where, measured=first.clock, goal=12 if is_demo else None, unit="s",
              beside=f"{first.cpu:.1f} CPU s, {first.cpu / scan.cpu:,.0f} bare scans")  # fmt: skip
    yield Aim(what="peak memory of it, largest process", where=where, measured=first.peak_gigabytes,
              goal=1 if is_million else None, unit="GB")  # fmt: skip
    yield _rows_aim(where, root, scan, rows, goal=10 if is_million else None)
    fast = parts.asked("fast", str(root))
    yield Aim(what="weigh-in typed → trend and plan", where=where, measured=fast["one"], goal=None, unit="CPU s",
              beside=f"{fast['all']:.2f} with {fast['typed']:.0f} typed")  # fmt: skip
    parts.type_weighin(root)
    after = parts.command("build", "--data", str(root))
    yield Aim(what="the whole build after it", where=where, measured=after.clock, goal=10 if is_demo else None,
              unit="s", beside=f"{after.cpu:.1f} CPU s")  # fmt: skip
    yield fit_aim(where, parts.asked("fit_folder", str(root)))
    yield from _page_aims(where, root, is_million=is_million)
    status = parts.median_of("status", "--data", str(root))
    yield Aim(what="`latewood status`", where=where, measured=status.clock, goal=0.7, unit="s",
              beside=f"{status.cpu:.2f} CPU s")  # fmt: skip
    if is_demo:
        sheets = parts.asked("sheets", str(root), str(SHEETS))
        yield Aim(what=f"{SHEETS} sheets (PDF, web page, data), each", where=where, measured=sheets["cpu_ms"], goal=30,
                  unit="CPU ms", beside=f"PDF alone {sheets['pdf_ms']:.0f}")  # fmt: skip


def _rows_aim(where: str, root: Path, scan: parts.Scan, rows: Rows, *, goal: float | None) -> Aim:
    found = parts.asked("rows", str(root))
    taken, cpu = int(found["taken"]), float(found["cpu"])
    rows[taken] = cpu
    return Aim(what="rows read, checked, stored; no models", where=where, measured=cpu / scan.cpu, goal=goal,
               unit="bare scans", beside=f"{cpu:.2f} CPU s, {taken:,} rows; one scan {scan.cpu:.2f} CPU s")  # fmt: skip


def _page_aims(where: str, root: Path, *, is_million: bool) -> Iterator[Aim]:
    pages = parts.measure_pages(root)
    first, ten = (1.5, 0.8) if is_million else (None, None)
    yield Aim(what="first page of a server just started", where=where, measured=pages.first, goal=first, unit="s",
              beside=f"{pages.started:.2f} with its start")  # fmt: skip
    yield Aim(what="page change, 95 of 100, one person", where=where, measured=pages.alone, goal=None, unit="s",
              beside=f"{pages.alone_n} changes")  # fmt: skip
    yield Aim(what="page change, 95 of 100, ten people", where=where, measured=pages.ten, goal=ten, unit="s",
              beside=f"{pages.ten_n} changes")  # fmt: skip


def fit_aim(where: str, found: dict[str, float | None], goal: float | None = None) -> Aim:
    """Sums and fit beside statsmodels and lme4: how many times as long each took."""
    ours = (found["sums"] or 0.0) + (found["fit"] or 0.0)
    words = [
        "statsmodels not tried"
        if found["statsmodels"] is None
        else f"statsmodels {found['statsmodels'] / ours:.1f} ×",
        "lme4 not installed or too slow" if found["lme4"] is None else f"lme4 {found['lme4'] / ours:.1f} ×",
        "" if found["apart"] is None else f"apart {found['apart']:.0e} SD",
    ]
    return Aim(what=f"trend fit of a line, {found['athletes']:,.0f} stays", where=where, measured=ours, goal=goal,
               unit="s", beside="; ".join(word for word in words if word))  # fmt: skip


def plain_aims() -> Iterator[Aim]:
    """The lines that need no folder."""
    version = parts.median_of("--version")
    yield Aim(what="`latewood --version`", where="", measured=version.clock, goal=0.3, unit="s",
              beside=f"{version.cpu:.2f} CPU s")  # fmt: skip
    yield fit_aim("invented", parts.asked("fit", str(ATHLETES)))
    yield fit_aim("invented", parts.asked("fit", str(MANY)), goal=5)
    traced = parts.asked("traces", str(LINES))
    yield Aim(what=f"{traced['lines']:,.0f} lines of raw traces, landed and stored", where="invented",
              measured=traced["rate"], goal=1e6, unit="lines a CPU second", more=True,
              beside=f"a bare scan of them {traced['lines'] / traced['scan']:,.0f}")  # fmt: skip


def more_aims(readings: int, rows: Rows) -> Iterator[Aim]:
    """A first build of a larger folder, once, and how the work on rows grew up to it."""
    where = f"{readings:,}"
    with tempfile.TemporaryDirectory(prefix="latewood-bench-") as scratch:
        root = parts.landed(Path(scratch) / "data", readings)
        ran = parts.command("build", "--data", str(root), may_fail=True)
        done = ran.code == 0
        why = f"{ran.cpu:.0f} CPU s" if done else f"the build ended with {ran.code}: {ran.words}"
        yield Aim(what="first build", where=where, measured=ran.clock if done else None, goal=180, unit="s",
                  beside=why)  # fmt: skip
        yield Aim(what="peak memory of it, largest process", where=where,
                  measured=ran.peak_gigabytes if done else None, goal=4, unit="GB")  # fmt: skip
        fast = parts.asked("fast", str(root)) if done else {"one": None}
        yield Aim(what="weigh-in typed → trend and plan", where=where, measured=fast["one"], goal=0.5,
                  unit="CPU s")  # fmt: skip
        if done:
            yield _rows_aim(where, root, parts.bare_scan(root), rows, goal=None)
    yield growth_aim(rows, readings)


def growth_aim(rows: Rows, readings: int) -> Aim:
    """The exponent of growth of the work on rows between the two largest sizes; not run without that of `readings`."""
    fewer, more = sorted(rows)[-2:]
    power = None if more < 0.9 * readings else exponents((fewer, more), (rows[fewer], rows[more]))[0]
    where = f"to {readings:,}" if power is None else f"{fewer:,} to {more:,}"
    return Aim(what="exponent of growth of rows", where=where, measured=power, goal=1, unit="",
               beside="1 is growth in proportion")  # fmt: skip


def table(aims: Sequence[Aim]) -> list[str]:
    """The lines as a table."""
    return [
        "| what | folder | measured | goal | | beside |",
        "|---|---|---|---|---|---|",
        *(
            f"| {a.what} | {a.where} | {f'{_number(a.measured)} {a.unit}'.strip()} | {_number(a.goal)} | {a.verdict} "
            f"| {a.beside} |"
            for a in aims
        ),
    ]


def _number(value: float | None) -> str:
    if value is None:
        return "–"
    return f"{value:,.0f}" if value >= 100 or value == round(value) else f"{value:.2f}"


def page(aims: Sequence[Aim], load: tuple[float, float]) -> str:
    """The document: the table, what its words mean, the machine and what else it had to do."""
    verdicts = Counter(a.verdict for a in aims if a.goal is not None)
    judged = verdicts["met"] + verdicts["not met"]
    return "\n".join([
        "# Speed",
        "",
        f"Written by `python -m tests.bench.speed {' '.join(sys.argv[1:])}` (`make bench` takes a million and ten), in "
        "one run; single runs, read as ± 30 %. A goal for a size stands at that size alone.",
        "",
        *table(aims),
        "",
        f"{verdicts['met']} of {judged} goals met"
        + (f"; {verdicts['not run']} not run." if verdicts["not run"] else "."),
        "",
        "Bare scan: DuckDB reads the folder's readings from one CSV into a table and averages them by measure; CPU "
        "seconds beside CPU seconds. It neither checks a row nor fits a model.",
        "Fits: one straight line with an intake-day term, sums in SQL; how many times as long the others took, and how "
        "far the coefficients lie apart in session SD.",
        f"Pages: one person for {parts.ALONE:.0f} s, ten for {parts.TEN:.0f} s, over the screens' own protocol, until "
        "the last part has arrived, single athletes as often as all other "
        "screens together, one server and its people on the same cores. Drawing in a browser comes on top: "
        "[pace](pace.md).",
        "Sheets and the typed weigh-in: warm, in one process. Commands: the median of five.",
        "",
        f"Machine: {os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}. Load average "
        f"{load[0]:.1f} before and {load[1]:.1f} after: above {os.cpu_count()} other work took part of the time.",
        "",
    ])  # fmt: skip


def measure_all(readings: int, more: int | None) -> Iterator[Aim]:
    """Every line, in order."""
    rows: Rows = {}
    with tempfile.TemporaryDirectory(prefix="latewood-bench-") as scratch:
        for where, size in (("demo", None), (f"{readings:,}", readings)):
            yield from folder_aims(where, parts.landed(Path(scratch) / where, size), size, rows)
    yield from plain_aims()
    if more:
        yield from more_aims(more, rows)


def main() -> None:
    """Measure, print, and write the page where one is named."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--readings", type=int, default=1_000_000)
    parser.add_argument("--more", type=int)
    parser.add_argument("--out", type=Path)
    given = parser.parse_args()
    before, aims = os.getloadavg()[0], list[Aim]()
    for aim in measure_all(given.readings, given.more):
        sys.stderr.write(f"{aim.what}, {aim.where}: {_number(aim.measured)} {aim.unit}\n")
        aims.append(aim)
    text = page(aims, (before, os.getloadavg()[0]))
    sys.stdout.write(text)
    if given.out is not None:
        given.out.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
