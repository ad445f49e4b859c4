"""The command line: one verb for each thing a data steward does. It parses, calls and prints."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.table import Table

from latewood.pipeline.catalogue.document import catalogue_markdown
from latewood.pipeline.cli import (
    care,
    demo,
    design,
    joins,
    look,
    own_measure,
    report,
    reviews,
    scale,
    sheets,
    summaries,
)
from latewood.pipeline.cli.common import user
from latewood.pipeline.cli.examples import add_examples
from latewood.pipeline.cli.serving import prepare as prepare_serving
from latewood.pipeline.cli.serving import run as run_serving
from latewood.pipeline.cli.start import version_line
from latewood.pipeline.cli.tidy import tidied
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest import actions
from latewood.pipeline.ingest.build.run import BuildSummary, build
from latewood.pipeline.ingest.logs import audit, content
from latewood.pipeline.ingest.logs.decisions import Answer
from latewood.pipeline.ingest.program import data_dir, load_program, prepare_folder, program_catalogue
from latewood.pipeline.warehouse.connection import open_published
from latewood.pipeline.warehouse.dictionary import data_dictionary

app = typer.Typer(
    no_args_is_help=True,
    pretty_exceptions_enable=False,
)
console = Console(highlight=False, markup=False, width=None if sys.stdout.isatty() else 160)
Data = Annotated[
    Path | None,
    typer.Option(
        "--data", callback=tidied, help="Data folder; else LATEWOOD_DATA, else a folder of your user."
    ),
]
Who = Annotated[str, typer.Option("--by", help="Who does it; written beside the action.")]
Build = Annotated[bool, typer.Option("--build/--no-build", help="Build afterwards.")]
Source = Annotated[
    Path, typer.Option(help="Folder of the demo files.", show_default="the invented academy that comes along")
]
Why = Annotated[str, typer.Option("--why", help="Why; written beside the decision.")]


@contextmanager
def _steps() -> Iterator[report.Steps]:
    with console.status("starting", spinner="line") as status:
        yield report.Steps(show=status.update, keep=None if console.is_terminal else console.print)


def _tell_version(asked: bool) -> None:
    if asked:
        typer.echo(version_line())
        raise typer.Exit


@app.callback()
def latewood(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_tell_version, is_eager=True, help="Tell the version and stop."),
    ] = False,
) -> None:
    """Latewood: what changed between test days, how sure that is, and what it goes with."""


@app.command("init")
def init(data: Data = None) -> None:
    """Make a data folder with its default settings."""
    root = data_dir(data)
    prepare_folder(root)
    console.print(
        f"data folder {root}: put settings into program.toml, mappings into mappings/, then import files"
    )


@app.command("import")
def import_(
    paths: Annotated[list[Path], typer.Argument(help="Files, or folders of files.")],
    mapping: Annotated[Path | None, typer.Option(help="Read all of them by this mapping.")] = None,
    by: Who = "",
    build_after: Build = True,
    data: Data = None,
) -> None:
    """Take files in: kept unchanged, checked row by row, then built into the warehouse."""
    with _steps() as steps:
        if build_after:
            outcomes = actions.import_files(data_dir(data), paths, by or user(), mapping, steps.note)
        else:
            outcomes = actions.land_files(data_dir(data), paths, by or user(), mapping)
    console.print(report.outcome_table(outcomes, counted=build_after))
    for line in report.outcome_notes(outcomes, program_catalogue(data_dir(data))):
        console.print(line)


@app.command("build")
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
    with _steps() as steps:
        summary = build(data_dir(data), steps.note, fresh=fresh, summarise=summarise)
    _print_build(summary, data_dir(data))


def _print_build(summary: BuildSummary | None, root: Path) -> None:
    if summary is not None:
        console.print(report.build_sentence(summary))
        joins.tell_superseded(root)


@app.command()
def status(data: Data = None) -> None:
    """Tell what is published, how old it is, and what waits."""
    root = data_dir(data)
    with open_published(root) as connection:
        for part in report.status_parts(connection, root, load_program(root)):
            console.print(part)


@app.command()
def held(
    rule: Annotated[str, typer.Option(help="Only this rule.")] = "",
    rows: Annotated[
        bool, typer.Option("--rows", help="Every row by itself, not one line a question.")
    ] = False,
    all_: Annotated[bool, typer.Option("--all", help="Also rows already decided.")] = False,
    limit: Annotated[int, typer.Option(help="At most so many rows.")] = 40,
    data: Data = None,
) -> None:
    """List what waits for a decision, with reason and proposal: a line a question, or with --rows a line a row."""
    report.check_rule(rule)
    with open_published(data_dir(data)) as connection:
        if rows or all_:
            console.print(report.held_table(connection, rule, limit, include_decided=all_))
        else:
            console.print(report.question_table(connection, rule, limit))


@app.command()
def athletes(
    find: Annotated[str, typer.Argument(help="Part of a name or id.")] = "", data: Data = None
) -> None:
    """List the athletes on the rosters with their ids and camps."""
    with open_published(data_dir(data)) as connection:
        console.print(report.athlete_table(connection, find))


@app.command()
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


@app.command()
def withdraw(import_id: str, why: Why, by: Who = "", data: Data = None) -> None:
    """Take the rows of an import out again; the file and the trace stay."""
    root = data_dir(data)
    _print_build(actions.withdraw(root, import_id, by or user(), why), root)


@app.command()
def measures(
    key: Annotated[str, typer.Argument(help="One measure, with its conditions and their values.")] = "",
    new: Annotated[str, typer.Option(help="Add a measure of your own under this name.")] = "",
    like: Annotated[str, typer.Option(help="With --new: take the form of the test from this measure.")] = "",
    settings: Annotated[
        list[str] | None, typer.Option("--set", help="With --new: one field=value; as often as needed.")
    ] = None,
    by: Who = "",
    data: Data = None,
    markdown: bool = False,
) -> None:
    """List the measures of the catalogue, with the program's own; or add one with --new, saved once it is complete."""
    if new:
        draft_lines = own_measure.new_measure(data_dir(data), new, like, settings or [], by or user())
        for line in draft_lines.lines:
            console.print(line, soft_wrap=True)
        if not draft_lines.saved:
            raise typer.Exit(2)
        return
    catalogue = program_catalogue(data_dir(data))
    if key:
        console.print(report.measure_table(catalogue, key))
        return
    if markdown:
        typer.echo(catalogue_markdown(catalogue), nl=False)
        return
    table = Table("key", "measure", "family", "units", "better", "must match")
    for m in catalogue.measures.values():
        conditions = ", ".join(c.key for c in m.must_match)
        table.add_row(m.key, m.label, m.family, ", ".join(m.accepted_units), str(m.better), conditions)
    console.print(table)


@app.command()
def dictionary() -> None:
    """Print the data dictionary of the warehouse, made from its schema."""
    typer.echo(data_dictionary(), nl=False)


@app.command("audit")
def audit_(
    limit: Annotated[int, typer.Option(help="Show at most so many of the latest lines.")] = 40,
    data: Data = None,
) -> None:
    """Show the audit log and check that no line was removed, edited or moved; exit code 2 where one was.

    Both heads written down outside the folder show later whether all of it was made anew.
    """
    root = data_dir(data)
    state = audit.check(root)
    console.print(report.audit_table(audit.lines(root)[-limit:]))
    console.print(f"{state.n} lines; head {state.head}")
    lines, head = content.end(root)
    if head:
        console.print(f"contents of the logs: {lines} lines; head {head}", soft_wrap=True)
    if not state.whole:
        raise LatewoodError(f"the audit log is not as it was written: {'; '.join(state.problems)}")


@app.command("demo")
def demo_(
    data: Data = None,
    source: Source = demo.SEED_DATA,
) -> None:
    """Make a data folder of the invented academy and build it."""
    with _steps() as steps:
        summary = demo.make_demo(data_dir(data), source, steps.note)
    _print_build(summary, data_dir(data))


@app.command()
def selftest(
    source: Source = demo.SEED_DATA,
) -> None:
    """Build the demo in a scratch folder and compare what was found with what was planted."""
    with _steps() as steps:
        result = demo.run_selftest(source, steps.note)
    for part in report.selftest_parts(result):
        console.print(part)
    if not result.passed:
        raise LatewoodError("the self-test found less than it should; see the rows marked `below`")


@app.command()
def serve(
    port: Annotated[int, typer.Option(help="Port on this machine.")] = 8501,
    address: Annotated[
        str, typer.Option(help="Where to listen; other than this machine only with a sign-in.")
    ] = "127.0.0.1",
    secrets: Annotated[
        Path | None, typer.Option(help="The sign-in's secrets; else secrets.toml of the data folder.")
    ] = None,
    data: Data = None,
) -> None:
    """Serve the screens: on this machine, or behind a sign-in where one is configured (docs/serving.md)."""
    serving = prepare_serving(data_dir(data), address, port, secrets)
    for warning in serving.warnings:
        console.print(f"warning: {warning}")
    raise typer.Exit(run_serving(serving))


app.add_typer(summaries.consent_app, name="consent")
app.add_typer(sheets.sheets_app, name="summaries")
app.command("summary")(summaries.summary)
app.command("join")(joins.join)
app.command("decisions")(joins.decisions)
app.command("look")(look.look)
app.command("design")(design.design_)
app.command("review")(reviews.review)
app.command("family")(reviews.family)
app.command("case")(reviews.case)
app.command("verify")(summaries.verify_)
app.command("erase")(summaries.erase_)
app.command("backup")(care.backup_)
app.command("restore")(care.restore_)
app.command("check")(care.check_)
app.command("trials")(scale.trials)
app.command("lines")(scale.lines)
add_examples(app)


def main() -> None:
    """Run the command line: errors made on purpose are one line and exit code 2."""
    try:
        app(standalone_mode=True)
    except LatewoodError as error:
        Console(stderr=True, highlight=False, soft_wrap=True).print(f"latewood: {error}", markup=False)
        sys.exit(2)
