"""Issues pages: checks the consent, makes the forms, notes each page in register and log before it leaves."""

from __future__ import annotations

import hashlib
import secrets
import unicodedata
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import Consents, refusal
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.ingest.logs.joins import joins_of
from latewood.pipeline.ingest.program import load_program
from latewood.pipeline.pages import register
from latewood.pipeline.pages.keys import Signer, signer
from latewood.pipeline.pages.record import ProgramRecord, read_record
from latewood.pipeline.pages.recruit.current import supersede_by, supersede_stated
from latewood.pipeline.pages.recruit.data import (
    as_data,
    render_csv,
    render_json,
    render_signature,
    with_hash,
)
from latewood.pipeline.pages.recruit.make import Choice, make_summary, signed
from latewood.pipeline.pages.recruit.model import Summary
from latewood.pipeline.pages.recruit.page import Page, make_page, page_texts
from latewood.pipeline.pages.recruit.pdf import render_pdf
from latewood.pipeline.pages.recruit.standing import Pool, make_pool
from latewood.pipeline.pages.recruit.web import render_web
from latewood.pipeline.pages.words import shown_name

FORMS = ("pdf", "html", "json", "csv", "sig")
SIGNATURE = "sig"  # over the other forms of the same page
CHUNK = 20
LONGEST_RECIPIENT = 120
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """What one run of exports works with: one build, the program's key, and how the pages are to be."""

    record: ProgramRecord
    pool: Pool
    key: Signer
    choice: Choice
    forms: tuple[str, ...]
    paper: str
    who: str
    recipient: str = ""  # for whom, as the staff wrote it; printed nowhere, deleted with an erasure


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """One page in its forms: file name to bytes; a form that cannot be made has its reason instead."""

    athlete_id: str
    name: str
    page_hash: str
    files: Mapping[str, bytes]
    missing: Mapping[str, str] = field(default_factory=dict)  # form to reason


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """Why an athlete has no page."""

    athlete_id: str
    name: str
    why: str


def open_run(
    root: Path, who: str, choice: Choice | None = None, forms: Sequence[str] = ("pdf",), paper: str = "letter"
) -> Run:
    """Return a run on the published build of a data folder.

    Raises SummaryError where a form is not one of FORMS, and what reading the build raises.
    """
    unknown = [f for f in forms if f not in FORMS]
    if unknown or not forms:
        raise SummaryError(f"form {''.join(unknown[:1])!r} is not one of {', '.join(FORMS)}")
    if set(forms) == {SIGNATURE}:
        raise SummaryError("form 'sig': signs other forms; name one of them too")
    record = read_record(root)
    return Run(
        record=record, pool=make_pool(record), key=signer(root), choice=choice or Choice(),
        forms=tuple(dict.fromkeys(forms)), paper=paper, who=who,
    )  # fmt: skip


def check_consent(record: ProgramRecord, consents: Consents, athlete_id: str) -> None:
    """Raise SummaryError, naming what is missing, where nothing about an athlete may leave the program."""
    if athlete_id not in record.athletes:
        raise SummaryError(f"athlete {athlete_id!r} is not on any roster; see `latewood athletes`")
    why = refusal(consents, athlete_id, record.athletes[athlete_id].birth_date, record.today)
    if why:
        raise SummaryError(why)


def preview(run: Run, consents: Consents, athlete_id: str) -> Page:
    """Return the words of a page without issuing it. Raises SummaryError without a consent that stands."""
    check_consent(run.record, consents, athlete_id)
    page = make_page(_summary(run, consents, athlete_id, "preview"))
    return replace(page, banner=f"Preview: not issued. {page.banner}".strip())


def _summary(run: Run, consents: Consents, athlete_id: str, serial: str) -> Summary:
    made = make_summary(run.record, run.pool, athlete_id, consents.by_athlete[athlete_id], run.choice)
    return with_hash(signed(made, serial, run.key.fingerprint))


def issue(
    run: Run, athlete_ids: Sequence[str], progress: Progress | None = None
) -> Iterator[Issued | Refused]:
    """Issue a page for each athlete who may have one; the others come back with the reason.

    A page is noted before its files are handed out. Consents are read again for every chunk of pages.
    """
    root = run.record.root
    for at in range(0, len(athlete_ids), CHUNK):
        consents = consent_book.standing(root)
        made = [_prepared(run, consents, a) for a in athlete_ids[at : at + CHUNK]]
        _note(run, consents, made)
        for number, (result, _) in enumerate(made, start=at + 1):
            if progress is not None:
                progress(number, len(athlete_ids))
            yield result


def _prepared(
    run: Run, consents: Consents, athlete_id: str
) -> tuple[Issued | Refused, tuple[Summary, Page] | None]:
    known = run.record.athletes.get(athlete_id)
    name = known.display_name if known else athlete_id
    try:
        check_consent(run.record, consents, athlete_id)
        summary = _summary(run, consents, athlete_id, secrets.token_hex(10))
        page = make_page(summary)
        files, missing = _files(run, summary, page)
    except SummaryError as error:
        return Refused(athlete_id=athlete_id, name=name, why=str(error)), None
    page_hash = summary.provenance.page_hash
    made = Issued(athlete_id=athlete_id, name=name, page_hash=page_hash, files=files, missing=missing)
    return made, (summary, page)


def _files(run: Run, summary: Summary, page: Page) -> tuple[dict[str, bytes], dict[str, str]]:
    """The files by name, and the forms that cannot be made with their reasons."""
    stem = f"{file_stem(summary.person.name)}_{summary.provenance.page_hash[:8]}"
    makers: dict[str, Callable[[], bytes]] = {
        "pdf": lambda: render_pdf(page, summary.provenance.made_on, run.paper),
        "html": lambda: render_web(page).encode(),
        "json": lambda: _signed_json(run, summary).encode(),
        "csv": lambda: b"\xef\xbb\xbf" + render_csv(summary).encode(),
    }
    files, missing = made_forms({form: makers[form] for form in run.forms if form != SIGNATURE}, stem)
    if SIGNATURE in run.forms:
        files[f"{stem}.{SIGNATURE}"] = render_signature(run.key, summary, files)
    return files, missing


def made_forms(
    makers: Mapping[str, Callable[[], bytes]], stem: str
) -> tuple[dict[str, bytes], dict[str, str]]:
    """Make each form on its own: what one cannot set, such as a letter no font has, does not hold up the others.

    Raises the reason of the first where none can be made.
    """
    files: dict[str, bytes] = {}
    missing: dict[str, str] = {}
    for form, make in makers.items():
        try:
            files[f"{stem}.{form}"] = make()
        except SummaryError as error:
            missing[form] = str(error)
    if not files:
        raise SummaryError(next(iter(missing.values())))
    return files, missing


def _signed_json(run: Run, summary: Summary) -> str:
    return render_json(summary, run.key.public_text, run.key.sign(summary.provenance.page_hash))


def _note(
    run: Run, consents: Consents, made: Sequence[tuple[Issued | Refused, tuple[Summary, Page] | None]]
) -> None:
    """Register and log pages, refusals too; older pages of the same athlete that read otherwise are replaced."""
    root = run.record.root
    at = run.record.program.now().isoformat()
    tokens = audit.name_subjects(
        root, [one.athlete_id for one, _ in made if one.athlete_id in run.record.athletes]
    )
    lines = []
    for result, printed in made:
        known = result.athlete_id in run.record.athletes
        token = tokens[result.athlete_id] if known else "not on the roster"
        if isinstance(result, Refused) or printed is None:
            why = result.why if isinstance(result, Refused) else ""
            audit.append(root, "export refused", run.who, {"subject": token, "why": why.split("'")[0]})
            continue
        summary, page = printed
        kept = {
            "data": as_data(summary), "texts": list(page_texts(page)), "paper": run.paper,
            "recipient": shown_name(run.recipient, LONGEST_RECIPIENT),
        }  # fmt: skip
        register.keep_printed(root, result.page_hash, kept)
        audit.append(
            root, "export", run.who,
            {"subject": token, "page": result.page_hash, "forms": _form_names(result)},
        )  # fmt: skip
        hashes = {
            Path(f).suffix[1:]: hashlib.sha256(content).hexdigest() for f, content in result.files.items()
        }
        lines.append({
            "state": "issued", "page_hash": result.page_hash, "subject": token, "files": hashes, "why": "",
            "valid_until": summary.provenance.valid_until.isoformat(), "build_id": run.record.build_id,
        })  # fmt: skip
    earlier = register.read(root, run.key.public_text).in_force()
    subjects = _with_joined(root, {str(line["subject"]) for line in lines})
    supersede_by(run.record, run.key, [e for e in earlier if e.subject in subjects])
    supersede_stated(root, subjects, consents)
    if lines:
        register.add(root, run.key, lines, at)


def _form_names(made: Issued) -> str:
    return ", ".join(Path(name).suffix[1:] for name in made.files)


def _with_joined(root: Path, tokens: set[str]) -> set[str]:
    """These tokens with those of ids that were joined with one of theirs."""
    joins, known = joins_of(root), audit.subjects(root)
    heads = {joins.head(athlete) for athlete, token in known.items() if token in tokens}
    return tokens | {token for athlete, token in known.items() if joins.head(athlete) in heads}


def file_stem(name: str) -> str:
    """A file name without folders, dots or anything a file system trips over, from a person's name.

    >>> file_stem("../../etc/passwd"), file_stem("José O'Neill"), file_stem("..."), file_stem("\\u202e")
    ('etc-passwd', 'jose-o-neill', 'summary', 'summary')
    """
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().casefold()
    kept = "".join(c if c.isalnum() else " " for c in plain)
    return "-".join(kept.split())[:60].strip("-") or "summary"


def athletes_of_camp(record: ProgramRecord, camp: str) -> tuple[str, ...]:
    """The athletes of a camp given by its id. Raises SummaryError where there is none."""
    result = tuple(a for a in record.athletes if camp in record.camps.get(a, ()))
    if not result:
        raise SummaryError(f"camp {camp!r} has no athletes; give its id as in the camps file")
    return result


def write_files(out: Path, issued: Issued) -> tuple[Path, ...]:
    """Write the forms of a page into a folder; a file already there is never written over.

    Raises SummaryError where the folder cannot be written.
    """
    written = []
    try:
        out.mkdir(parents=True, exist_ok=True)
        for name, content in issued.files.items():
            path = out / name
            with path.open("xb") as stream:
                stream.write(content)
            written.append(path)
    except OSError as error:
        raise SummaryError(
            f"{out}: cannot be written ({error.strerror}); give another folder with --out"
        ) from error
    return tuple(written)


def mark_withdrawn(root: Path) -> int:
    """Mark the issued pages of every athlete whose consent is withdrawn now; return how many."""
    key = signer(root)
    known = register.read(root, key.public_text)
    consents = consent_book.standing(root)
    athletes = {token: athlete for athlete, token in audit.subjects(root).items()}
    gone = []
    for entry in known.in_force():
        consent = consents.by_athlete.get(athletes.get(entry.subject, ""))
        if consent is not None and consent.withdrawn_on is not None:
            gone.append(entry)
    if gone:
        at = load_program(root).now().isoformat()
        withdrawn = register.LaterState(state="withdrawn", why="the consent was withdrawn", at=at)
        register.mark(root, key, gone, withdrawn)
    return len(gone)
