"""The sheets that are out, for the staff: forms, for whom, until when, what became of each; and all of them anew."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.ingest.program import load_program
from latewood.pipeline.pages import register
from latewood.pipeline.pages.keys import known_public
from latewood.pipeline.pages.recruit import issue
from latewood.pipeline.pages.recruit.current import choice_of, supersede_changed
from latewood.pipeline.pages.recruit.make import Choice

IN_FORCE, EXPIRED = "in force", "expired"
STATES = (IN_FORCE, "superseded", "withdrawn", EXPIRED)


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetOut:
    """One issued sheet as it is today. After an erasure it names nobody, and what was chosen for it is not kept."""

    page_hash: str
    athlete_id: str
    issued_on: date
    forms: tuple[str, ...]
    recipient: str
    valid_until: date
    state: str
    why: str
    state_on: date
    paper: str
    choice: Choice | None


def sheets_out(root: Path) -> tuple[SheetOut, ...]:
    """Every sheet that was issued, the newest first, held against the consents and the build of this moment.

    Raises SummaryError where the register is not as it was written.
    """
    public = known_public(root)
    if public is None:
        return ()
    issue.mark_withdrawn(root)
    supersede_changed(root)
    book = register.read(root, public)
    if book.problems:
        raise SummaryError(f"landing/register.jsonl, {book.problems[0]}; restore it from a backup")
    athletes = {token: athlete for athlete, token in audit.subjects(root).items()}
    today = load_program(root).today()
    issued = [e for e in book.entries if e.state == "issued"]
    return tuple(
        _sheet(root, e, book.last(e.page_hash) or e, athletes.get(e.subject, ""), today)
        for e in reversed(issued)
    )


def _sheet(
    root: Path, entry: register.RegisterLine, last: register.RegisterLine, athlete_id: str, today: date
) -> SheetOut:
    kept = register.printed(root, entry.page_hash) or {}
    until = date.fromisoformat(entry.valid_until)
    state, why, since = last.state, last.why, date.fromisoformat(last.at[:10])
    if state == "issued":
        state = EXPIRED if until < today else IN_FORCE
        since = until if state == EXPIRED else since
    return SheetOut(
        page_hash=entry.page_hash, athlete_id=athlete_id, issued_on=date.fromisoformat(entry.at[:10]),
        forms=tuple(entry.files), recipient=kept.get("recipient", ""), valid_until=until, state=state, why=why,
        state_on=since, paper=kept.get("paper", "letter"), choice=choice_of(kept["data"]) if kept else None,
    )  # fmt: skip


def to_issue_again(sheets: Sequence[SheetOut], today: date) -> tuple[SheetOut, ...]:
    """Of `sheets_out`, those superseded that would be valid still and that no later sheet has replaced.

    A later one replaces it for the same athlete and recipient, with all its measures.
    """
    result: list[SheetOut] = []
    later: list[SheetOut] = []
    for one in sheets:  # the newest first
        waits = one.state == "superseded" and one.valid_until >= today and one.athlete_id and one.choice
        if waits and not any(_replaces(new, one) for new in later):
            result.append(one)
        later.append(one)
    return tuple(result)


def _replaces(new: SheetOut, old: SheetOut) -> bool:
    return (
        new.state == IN_FORCE
        and new.choice is not None
        and old.choice is not None
        and (new.athlete_id, new.recipient) == (old.athlete_id, old.recipient)
        and set(new.choice.measures) >= set(old.choice.measures)
    )


def issue_again(
    root: Path, who: str, athletes: Collection[str] | None = None
) -> Iterator[issue.Issued | issue.Refused]:
    """Issue every sheet of `to_issue_again` anew from the published build, chosen and formed as it was.

    The consent of each is asked again; who may have none comes back with the reason.
    """
    waiting = [
        one
        for one in to_issue_again(sheets_out(root), load_program(root).today())
        if athletes is None or one.athlete_id in athletes
    ]
    if not waiting:
        return
    run = issue.open_run(root, who)
    for alike in dict.fromkeys((w.athlete_id, w.choice, w.forms, w.paper, w.recipient) for w in waiting):
        athlete_id, choice, forms, paper, recipient = alike
        if choice is not None:
            anew = replace(run, choice=choice, forms=forms, paper=paper, recipient=recipient)
            yield from issue.issue(anew, [athlete_id])
