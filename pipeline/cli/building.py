"""The verbs that take files in, settle rows and build: parse, call, print."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from latewood.pipeline.cli import demo, joins, report, scale
from latewood.pipeline.cli.common import Build, Data, Who, console, steps, user
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest import actions
from latewood.pipeline.ingest.build.run import BuildSummary, build
from latewood.pipeline.ingest.logs.decisions import Answer
from latewood.pipeline.ingest.program import data_dir, program_catalogue

Source = Annotated[
    Path, typer.Option(help="Folder of the demo files.", show_default="the invented academy that comes along")
]
Why = Annotated[str, typer.Option("--why", help="Why; written beside the decision.")]


def import_(
    paths: Annotated[list[Path], typer.Argument(help="Files, or folders of files.")],
    mapping: Annotated[Path | None, typer.Option(help="Read all of them by this mapping.")] = None,
    by: Who = "",
    build_after: Build = True,
    data: Data = None,
) -> None:
    """Take files in: kept unchanged, checked row by row, then built into the warehouse."""
    with steps() as shown:
        if build_after:
            outcomes = actions.import_files(data_dir(data), paths, by or user(), mapping, shown.note)
        else:
            outcomes = actions.land_files(data_dir(data), paths, by or user(), mapping)
    console.print(report.outcome_table(outcomes, counted=build_after))
    for line in report.outcome_notes(outcomes, program_catalogue(data_dir(data))):
        console.print(line)


def build_(
    fresh: Annotated[bool, typer.Option("--fresh", help="Build even if nothing changed.")] = False,
    engine: scale.EngineName = "",
    master: scale.Master = "local[2]",
    between: Annotated[
        Path | None, typer.Option(help="With --engine: folder that the engine reads trials from.")
    ] = None,
    data: Data = None,
) -> None:
    """Build the warehouse from landing, catalogue and decisions, and publish it."""
    summarise = scale.summarise(engine, master, between)
    with steps() as shown:
        summary = build(data_dir(data), shown.note, fresh=fresh, summarise=summarise)
    _print_build(summary, data_dir(data))


def decide(
    action: Annotated[str, typer.Argument(help="accept, correct, reject, assign, exchange or reopen")],
    rows: Annotated[list[str], typer.Argument(help="Held rows or groups; for reopen also ids of decisions.")],
    why: Why,
    by: Who = "",
    to: Annotated[str | None, typer.Option(help="The athlete's id, for assign.")] = None,
    value: Annotated[
        str | None, typer.Option(help="For correct of one row: the right number, in its unit.")
    ] = None,
    build_after: Build = True,
    data: Data = None,
) -> None:
    """Settle held rows, or take answers back with reopen; the decision is kept and replayed at every build."""
    root, answer = data_dir(data), Answer(action=action, who=by or user(), why=why, argument=to, value=value)
    if action == "reopen":
        summary = actions.reopen(root, rows, answer, build_after=build_after)
    else:
        summary = actions.decide(root, rows, answer, build_after=build_after)
    _print_build(summary, root)


def withdraw(import_id: str, why: Why, by: Who = "", data: Data = None) -> None:
    """Take the rows of an import out again; the file and the trace stay."""
    root = data_dir(data)
    _print_build(actions.withdraw(root, import_id, by or user(), why), root)


def demo_(
    data: Data = None,
    source: Source = demo.SEED_DATA,
) -> None:
    """Make a data folder of the invented academy and build it."""
    with steps() as shown:
        summary = demo.make_demo(data_dir(data), source, shown.note)
    _print_build(summary, data_dir(data))


def selftest(
    source: Source = demo.SEED_DATA,
) -> None:
    """Build the demo in a scratch folder and compare what was found with what was planted."""
    with steps() as shown:
        result = demo.run_selftest(source, shown.note)
    for part in report.selftest_parts(result):
        console.print(part)
    if not result.passed:
        raise LatewoodError("the self-test found less than it should; see the rows marked `below`")


def _print_build(summary: BuildSummary | None, root: Path) -> None:
    if summary is not None:
        console.print(report.build_sentence(summary))
        joins.tell_superseded(root)
