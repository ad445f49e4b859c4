"""`latewood look`: what a file seems to be, what has to be asked, and taking it in once that is settled."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console, Group
from rich.table import Table

from latewood.pipeline.cli import report
from latewood.pipeline.cli.common import user
from latewood.pipeline.cli.tidy import tidied
from latewood.pipeline.errors import FileUnreadableError
from latewood.pipeline.ingest.files.find_files import find_files
from latewood.pipeline.ingest.look.accept import Looked, accept, known_of, look_at
from latewood.pipeline.ingest.look.places import answers_by, places_of
from latewood.pipeline.ingest.look.proposal import FileQuestion, Proposal
from latewood.pipeline.ingest.program import data_dir, program_catalogue

CHOICES = 6  # shown of one question


def look(
    paths: Annotated[list[Path], typer.Argument(help="Files, or folders of files.")],
    answer: Annotated[
        list[str] | None,
        typer.Option("--answer", help="question=choice, or file > question=choice; repeat it."),
    ] = None,
    accept_: Annotated[bool, typer.Option("--accept", help="Save the mappings and import.")] = False,
    anew: Annotated[bool, typer.Option("--anew", help="Propose anew, whatever was saved before.")] = False,
    places: Annotated[
        Path | None, typer.Option("--places", help="A list for these files: place (lane, number), athlete.")
    ] = None,
    by: Annotated[str, typer.Option("--by", help="Who does it; written beside the import.")] = "",
    data: Annotated[Path | None, typer.Option("--data", callback=tidied, help="Data folder.")] = None,
) -> None:
    """Look at files nobody wrote a mapping for: what each seems to be, what has to be asked. --accept takes them in."""
    root, console = data_dir(data), Console(highlight=False, markup=False, width=150)
    contents, unread = read_each(paths)
    if not contents:
        raise FileUnreadableError("; ".join(unread))
    for line in unread:
        console.print(f"not read: {line}")
    answers = answers_in(answer or [])
    looks = look_at(root, contents, answers, anew=anew)
    if places is not None:
        answers = {**_placed(root, places, looks), **answers}
        looks = look_at(root, contents, answers, anew=anew)
    for looked in looks:
        for proposal in looked.proposals:
            console.print(proposal_parts(proposal))
    if not accept_:
        console.print("Nothing is stored. Take in what is settled: the same command with --accept")
        return
    _take(console, root, looks, by or user())


def _take(console: Console, root: Path, looks: Sequence[Looked], who: str) -> None:
    """Take in what is settled, and say what became of each file."""
    outcomes, refused = accept(root, looks, who)
    if outcomes:
        console.print(report.outcome_table(outcomes, counted=False))
        for line in report.outcome_notes(outcomes, program_catalogue(root)):
            console.print(line)
    for line in refused:
        console.print(f"not taken: {line}")
    if refused and not outcomes:
        raise FileUnreadableError(
            "nothing was taken; answer the questions above with --answer question=choice"
        )


def _placed(root: Path, path: Path, looks: Sequence[Looked]) -> dict[str, str]:
    try:
        content = path.read_bytes()
    except OSError as error:
        raise FileUnreadableError(f"{path}: cannot be read ({error.strerror}); check the path") from error
    result = places_of(path.name, content, known_of(root))
    return answers_by(result, [p for one in looks for p in one.proposals])


def read_each(paths: Sequence[Path]) -> tuple[list[tuple[str, bytes]], list[str]]:
    """Name and content of each file, and a line for each path or file that cannot be read; it stops no other."""
    contents, unread = [], []
    for path in paths:
        try:
            files = find_files([path])
        except FileUnreadableError as error:
            unread.append(str(error))
            continue
        for file in files:
            try:
                contents.append((file.name, file.read_bytes()))
            except OSError as error:
                unread.append(f"{file}: cannot be read ({error.strerror}); check its permissions")
    return contents, unread


def answers_in(texts: Sequence[str]) -> Mapping[str, str]:
    """Answers given as question=choice. Raises FileUnreadableError where one has no equals sign."""
    wrong = next((t for t in texts if "=" not in t), None)
    if wrong is not None:
        raise FileUnreadableError(f"--answer {wrong!r}: write question=choice, as the look lists them")
    return {key.strip(): value.strip() for key, _, value in (t.rpartition("=") for t in texts)}


def proposal_parts(proposal: Proposal) -> Group:
    """One proposal in plain words: columns, samples, names, what is left out, questions."""
    title = proposal.file_name + (f", sheet {proposal.sheet!r}" if proposal.sheet else "")
    if proposal.problem:
        state = f"{proposal.form}, not taken yet" if proposal.notes else "cannot be read"
        return Group(f"\n{title}: {state}", *(f"  {line}" for line in (*proposal.notes, proposal.problem)))
    parts: list[object] = [f"\n{title}: {proposal.kind}; {proposal.form}"]
    if proposal.columns:
        parts.append(_columns(proposal))
    if proposal.samples:
        parts.append(_samples(proposal))
    lines = [f"line {line} left out: {text}" for line, text in proposal.dropped]
    lines += [f"{n.text!r} ({n.rows} rows) is {n.chosen}: {n.reason}" for n in proposal.names if n.chosen]
    parts += [f"  {line}" for line in (*lines, *proposal.notes)]
    parts += [question_text(q) for q in proposal.questions]
    parts.append("  ready" if proposal.ready else f"  {len(proposal.open)} open question(s)")
    return Group(*parts)  # type: ignore[arg-type]


def _columns(proposal: Proposal) -> Table:
    table = Table("column", "taken as", "unit", "how sure", "why", title_justify="left")
    for c in proposal.columns:
        own = ", ".join(f"{k} {v}" for k, v in c.conditions)
        table.add_row(
            c.header, " ".join(p for p in (c.target or "-", own) if p), c.unit, c.certainty, c.reason
        )
    return table


def _samples(proposal: Proposal) -> Table:
    stored = "as it would be stored" + (", with the proposed or first answers" if proposal.open else "")
    table = Table("athlete", "day", "measure", stored, "conditions")
    for s in proposal.samples:
        table.add_row(s.athlete, s.day, s.measure, s.value, s.conditions)
    return table


def question_text(question: FileQuestion) -> str:
    """A question with its key and choices, as an answer has to name them."""
    shown = " | ".join(question.choices[:CHOICES]) + (" | …" if len(question.choices) > CHOICES else "")
    state = f"answered: {question.answer}" if question.answer else ""
    if not question.answer:
        state = f"proposed: {question.proposed}" if question.proposed else "open"
        state += "" if question.needed else ", may stay so"
    return f"  [{question.key}] {question.text} ({state})" + (f"\n      choices: {shown}" if shown else "")
