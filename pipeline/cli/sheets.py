"""The verbs about sheets that are out: list them, and issue all superseded ones again."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.table import Table

from latewood.pipeline.cli.common import Data, Who, console, user
from latewood.pipeline.cli.summaries import print_refused
from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.program import data_dir, load_program
from latewood.pipeline.pages.recruit import issue
from latewood.pipeline.pages.recruit.sheets import STATES, issue_again, sheets_out, to_issue_again

sheets_app = typer.Typer(no_args_is_help=True)


@sheets_app.command("list")
def summaries_list(
    state: Annotated[str, typer.Option(help=f"Only these: {', '.join(STATES)}.")] = "",
    athlete: Annotated[str, typer.Option(help="Only of this athlete, by id.")] = "",
    data: Data = None,
) -> None:
    """List every sheet that was issued: forms, for whom, until when, and what became of it."""
    if state and state not in STATES:
        raise SummaryError(f"state {state!r} is not one of {', '.join(STATES)}")
    root = data_dir(data)
    sheets = sheets_out(root)
    table = Table("page", "athlete", "issued", "forms", "for whom", "valid until", "state", "why")
    for one in sheets:
        if state in {"", one.state} and athlete in {"", one.athlete_id}:
            since = one.state if one.state == "in force" else f"{one.state} {one.state_on}"
            table.add_row(
                one.page_hash[:8], one.athlete_id or "(erased)", str(one.issued_on), ", ".join(one.forms),
                one.recipient, str(one.valid_until), since, one.why,
            )  # fmt: skip
    console.print(table)
    waiting = len(to_issue_again(sheets, load_program(root).today()))
    if waiting:
        console.print(f"{waiting} superseded and not replaced: `latewood summaries again` issues them anew")


@sheets_app.command("again")
def summaries_again(
    out: Annotated[Path, typer.Option(help="Folder for the files.")] = Path("summaries"),
    by: Who = "",
    data: Data = None,
) -> None:
    """Issue every superseded sheet anew, chosen and formed as it was; each consent is asked again."""
    refused: list[issue.Refused] = []
    written = 0
    for result in issue_again(data_dir(data), by or user()):
        if isinstance(result, issue.Refused):
            refused.append(result)
        else:
            written += len(issue.write_files(out, result))
    console.print(f"{written} files in {out}" if written else "no sheet was issued again")
    print_refused(refused)
