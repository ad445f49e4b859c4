"""The verbs that only read; they load nothing that builds: parse, call, print."""

from __future__ import annotations

from typing import Annotated

import typer
from rich.table import Table

from latewood.pipeline.catalogue.document import catalogue_markdown
from latewood.pipeline.cli import own_measure, report
from latewood.pipeline.cli.common import Data, Who, console, user
from latewood.pipeline.ingest.program import data_dir, load_program, program_catalogue
from latewood.pipeline.warehouse.connection import open_published
from latewood.pipeline.warehouse.dictionary import data_dictionary


def status(data: Data = None) -> None:
    """Tell what is published, how old it is, and what waits."""
    root = data_dir(data)
    with open_published(root) as connection:
        for part in report.status_parts(connection, root, load_program(root)):
            console.print(part)


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


def athletes(
    find: Annotated[str, typer.Argument(help="Part of a name or id.")] = "", data: Data = None
) -> None:
    """List the athletes on the rosters with their ids and camps."""
    with open_published(data_dir(data)) as connection:
        console.print(report.athlete_table(connection, find))


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


def dictionary() -> None:
    """Print the data dictionary of the warehouse, made from its schema."""
    typer.echo(data_dictionary(), nl=False)
