"""The commands about athlete ids that are one person's, and about answers on record."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.table import Table

from latewood.pipeline.cli.common import Build, Data, Who, console, user
from latewood.pipeline.cli.report import build_sentence
from latewood.pipeline.ingest.joining import join as join_ids
from latewood.pipeline.ingest.joining import preview
from latewood.pipeline.ingest.logs import decisions as decided
from latewood.pipeline.ingest.logs.decisions import Answer
from latewood.pipeline.ingest.program import data_dir
from latewood.pipeline.pages.recruit.current import supersede_joined


def join(
    joined: Annotated[str, typer.Argument(help="The id that is to be read as the other.")],
    into: Annotated[str, typer.Argument(help="The id that is kept.")],
    reason: Annotated[
        str, typer.Option("--reason", "--why", help="Why they are one; without it both are only shown.")
    ] = "",
    by: Who = "",
    build_after: Build = True,
    data: Data = None,
) -> None:
    """Join two ids of one athlete; without a reason only show what both hold. No file changes, and it can be undone."""
    root = data_dir(data)
    if not reason.strip():
        shown = preview(root, joined, into)
        table = Table("", f"{joined} (joined)", f"{into} (kept)")
        for row in shown.side_by_side:
            table.add_row(*row)
        console.print(table)
        console.print(
            shown.refusal or f"Nothing was changed. To join them: latewood join {joined} {into} --reason ..."
        )
        return
    summary = join_ids(
        root, joined, into, Answer(action="join", who=by or user(), why=reason), build_after=build_after
    )
    console.print(f"{joined} is read as {into}. To take it back: latewood decide reopen {joined} --why ...")
    if summary is not None:
        console.print(build_sentence(summary))
        tell_superseded(root)


def tell_superseded(root: Path) -> None:
    """Mark issued pages of joined ids that read otherwise now, and say how many."""
    n = supersede_joined(root)
    if n:
        console.print(
            f"issued pages of joined athletes that read otherwise now are marked as superseded: {n}"
        )


def decisions(
    limit: Annotated[int, typer.Option(help="At most so many, the latest first.")] = 40, data: Data = None
) -> None:
    """List the decisions on record with their ids, and which of them can be taken back (latewood decide reopen ID)."""
    made = decided.read(data_dir(data) / "decisions.jsonl")
    current = decided.in_force(made)
    table = Table("id", "when", "who", "decision", "about", "why", "can be taken back")
    for one in list(reversed(made))[:limit]:
        first, more = next(iter(one.targets), ""), len(one.targets) - 1
        given = one.argument_text(first) if first else ""
        about = f"{first}{f' and {more} more' if more > 0 else ''}"
        action = {"mend": "correct"}.get(one.action, one.action) + (f" {given}" if given else "")
        back = "yes" if one.decision_id in current else ""
        table.add_row(one.decision_id, one.decided_at[:16], one.decided_by, action, about, one.why, back)
    console.print(table)
