"""The verb that shows and checks the audit log: parse, call, print."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from latewood.pipeline.cli import report
from latewood.pipeline.cli.common import Data, console
from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.logs import audit, content, receipt
from latewood.pipeline.ingest.logs.audit_key import KEY
from latewood.pipeline.ingest.program import data_dir


def audit_(
    limit: Annotated[int, typer.Option(help="Show at most so many of the latest lines.")] = 40,
    receipt_file: Annotated[
        Path | None,
        typer.Option("--receipt", help="Write a receipt of the logs here; keep it outside the folder."),
    ] = None,
    against: Annotated[
        str,
        typer.Option(
            "--check", help="Check against a receipt: its file, or what was written down (12:3f0c…)."
        ),
    ] = "",
    key_file: Annotated[
        Path | None,
        typer.Option("--new-key", help="Make a key for the log, outside the folder, and begin with it."),
    ] = None,
    data: Data = None,
) -> None:
    """Show the audit log and check that no line was removed, edited or moved; exit code 2 where one was.

    A receipt kept outside the folder shows later whether all of it was made anew; so does a key.
    """
    root = data_dir(data)
    if key_file is not None:
        audit.begin_key(root, key_file)
        console.print(f"from now on set {KEY}={key_file.absolute()} wherever Latewood runs", soft_wrap=True)
        return
    if against:
        _against(root, against)
        return
    if receipt_file is not None:
        made = receipt.make(root)
        _write(receipt_file, receipt.as_text(made))
        console.print(f"{receipt_file}: to write down: {made.typed} of {made.at[:10]}", soft_wrap=True)
        return
    state = audit.check(root)
    console.print(report.audit_table(audit.lines(root)[-limit:]))
    console.print(f"{state.n} lines; head {state.head}")
    lines, head = content.end(root)
    if head:
        console.print(f"contents of the logs: {lines} lines; head {head}", soft_wrap=True)
    if not state.whole:
        raise LatewoodError(f"the audit log is not as it was written: {'; '.join(state.problems)}")


def _write(path: Path, text: str) -> None:
    """Write a new file; one already there is never written over."""
    try:
        with path.open("x", encoding="utf-8") as stream:
            stream.write(text)
    except OSError as error:
        raise LatewoodError(f"{path}: cannot be written ({error.strerror}); give another name") from error


def _against(root: Path, given: str) -> None:
    """Hold the logs against a receipt; LatewoodError where they do not fit."""
    path = Path(given)
    found = receipt.problems(root, path.read_text(encoding="utf-8") if path.is_file() else given)
    if found:
        raise LatewoodError(f"the logs do not fit the receipt: {'; '.join(found)}")
    console.print("all that stood on the day of the receipt stands as it was written")
