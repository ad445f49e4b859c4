"""The verbs of the command line that look after a data folder: back it up, restore it, check it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

from latewood.pipeline.care.backup import back_up
from latewood.pipeline.care.check import check_folder
from latewood.pipeline.care.restore import restore
from latewood.pipeline.care.sealed import Sealed, passphrase_of
from latewood.pipeline.cli.common import Data, Who, console, user
from latewood.pipeline.ingest.program import data_dir

PassphraseFile = Annotated[
    Path | None, typer.Option(help="File whose first line is the passphrase of a sealed backup, mode 0600.")
]


def backup_(
    archive: Annotated[Path, typer.Argument(help="The archive to write, such as latewood-2033-08-01.zip.")],
    without_key: Annotated[
        bool,
        typer.Option("--without-key", help="Leave the signing key of summaries out; keep it elsewhere then."),
    ] = False,
    passphrase_file: PassphraseFile = None,
    by: Who = "",
    data: Data = None,
) -> None:
    """Write everything that cannot be made again into one archive, and read it again."""
    columns = (TextColumn("files"), BarColumn(), MofNCompleteColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("files", total=None)
        made = back_up(
            data_dir(data), _place(archive, passphrase_file), by or user(), with_key=not without_key,
            progress=lambda done, total: bar.update(task, completed=done, total=total),
        )  # fmt: skip
    size = sum(member.size for member in made.members) / 1e6
    console.print(
        f"{archive}: {len(made.members)} files, {size:,.1f} MB before packing; read again and whole"
    )
    key = "and the key that signs summaries " if made.with_key else ""
    console.print(
        f"It holds everything about your athletes {key}sealed: without the passphrase nobody opens it, you neither."
        if passphrase_file
        else f"It holds everything about your athletes, {key}in plain: keep it where only you can read it."
    )


def _place(archive: Path, passphrase_file: Path | None) -> Path | Sealed:
    return archive if passphrase_file is None else Sealed(archive, passphrase_of(passphrase_file))


def restore_(
    archive: Annotated[Path, typer.Argument(help="The archive that `latewood backup` wrote.")],
    erasures: Annotated[
        list[Path] | None,
        typer.Option(
            help="landing/erasures.jsonl of the lost folder, or a later backup; may be given again."
        ),
    ] = None,
    nobody_erased: Annotated[
        bool, typer.Option("--nobody-erased", help="Nobody was erased since the backup; say so.")
    ] = False,
    passphrase_file: PassphraseFile = None,
    by: Who = "",
    data: Data = None,
) -> None:
    """Make a data folder from a backup, in a folder that is empty or not there, and build it."""
    root = data_dir(data)
    source = _place(archive, passphrase_file)
    done = restore(source, root, by or user(), erasures=erasures or (), nobody_erased=nobody_erased)
    console.print(f"{root}: restored as of {done.listed.made_at}, build {done.build_id}")
    if done.erased_again:
        console.print(f"{done.erased_again} athletes were erased since and have been erased again")


def check_(data: Data = None) -> None:
    """Examine files, decisions, logs, consents, register and warehouse; exit code 2 where something is wrong."""
    result = check_folder(data_dir(data))
    for one in result:
        console.print(f"{'wrong' if one.wrong else 'note'}: {one.area}: {one.what}; {one.mend}")
    wrong = sum(one.wrong for one in result)
    console.print(f"{wrong} wrong, {len(result) - wrong} notes" if result else "all is as it was written")
    if wrong:
        raise typer.Exit(2)
