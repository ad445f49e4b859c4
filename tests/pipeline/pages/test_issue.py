"""Issuing and checking: no way around the consent, every edit told, attacks by names and files."""

from __future__ import annotations

import csv
import io
import json
import re
import stat
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from pypdf import PdfReader, PdfWriter
from pypdf.generic import DecodedStreamObject, NameObject

from latewood.pipeline.errors import SummaryError
from latewood.pipeline.ingest.actions import import_files
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.logs import audit
from latewood.pipeline.pages import keys, register
from latewood.pipeline.pages.recruit import issue
from latewood.pipeline.pages.recruit import verify as verifying
from latewood.pipeline.pages.recruit.data import safe_cell
from latewood.pipeline.pages.recruit.issue import Issued, Refused, file_stem, open_run
from latewood.pipeline.pages.recruit.pdf import pdf_text
from latewood.pipeline.pages.recruit.verify import verify
from latewood.pipeline.pages.words import shown_name
from tests.audited import logged_actions
from tests.conftest import Camp
from tests.pipeline.pages.conftest import GIVEN

ALL = ("pdf", "html", "json", "csv")
NASTY = {
    "html": "<b>Bo</b><script>alert(1)</script>",
    "formula": "=cmd|' /C calc'!A0",
    "at": "@SUM(1+1)",
    "plus": "+1-1",
    "tab": "\t=1+1",
    "right to left": "Ann\u202egpj.exe",
    "arabic": "محمد الأحمر",
    "hebrew": "נועה כהן",
    "300 letters": "Longname" * 38,
    "emoji": "Bo 😀 Reed",
    "combining": "Z\u0300\u0301\u0302\u0303\u0304\u0305\u0306a\u0308lgo",
    "path": "../../etc/passwd",
    "sql": "Bo'); drop table athlete; --",
    "typst": '#panic("x") $x$ *b* @ref <label> \\',
    "quotes": "\"' onload=x &amp; &lt;",
}


def _issue(
    camp: Camp, athletes: tuple[str, ...] = ("T1",), forms: tuple[str, ...] = ALL
) -> list[Issued | Refused]:
    return list(issue.issue(open_run(camp.root, "Ira", forms=forms), athletes))


def _files(camp: Camp) -> dict[str, bytes]:
    (made,) = _issue(camp)
    assert isinstance(made, Issued), made
    return {Path(name).suffix[1:]: content for name, content in made.files.items()}


def _recall(camp: Camp, **changed: object) -> None:
    consent_book.record(camp.root, replace(GIVEN, **changed), "Ira")


def test_what_was_issued_is_issued_in_every_form(agreed: Camp) -> None:
    for form, content in _files(agreed).items():
        verdict = verify(agreed.root, f"a.{form}", content)
        assert (verdict.state, verdict.good) == ("issued", True), (form, verdict)
    line = audit.lines(agreed.root)[-1]
    assert (line.event, line.who, line.details["forms"]) == ("export", "Ira", "pdf, html, json, csv")
    assert "T1" not in str(line.details)
    assert audit.check(agreed.root).whole
    text = (agreed.root / "landing" / "register.jsonl").read_text(encoding="utf-8")
    assert "Fernmoss" not in text
    assert '"T1"' not in text


def test_without_consent_there_is_no_form_by_any_route(heath: Camp) -> None:
    for result in _issue(heath, ("T1", "R1", "nobody")):
        assert isinstance(result, Refused)
    run = open_run(heath.root, "Ira")
    with pytest.raises(SummaryError, match="no consent is recorded; ask the guardian"):
        issue.preview(run, consent_book.standing(heath.root), "T1")
    assert not (heath.root / "landing" / "register.jsonl").exists()
    assert [line.event for line in logged_actions(heath.root)] == ["export refused"] * 3


def test_a_withdrawal_within_a_run_stops_the_next_chunk(
    agreed: Camp, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(issue, "CHUNK", 1)
    results = issue.issue(open_run(agreed.root, "Ira", forms=("json",)), ["T1", "T1"])
    assert isinstance(next(results), Issued)
    consent_book.withdraw(agreed.root, "T1", "Ira")
    second = next(results)
    assert isinstance(second, Refused)
    assert "was withdrawn on 2032-08-20" in second.why


def test_withdrawn_superseded_expired_and_unknown_are_told(agreed: Camp, tmp_path: Path) -> None:
    first = _files(agreed)
    more = agreed.write("more.csv", "athlete,measured_on,measure,value,unit\nT1,2032-08-01,body_mass,73,kg\n")
    import_files(agreed.root, [more], "Ira")
    second = _files(agreed)
    assert verify(agreed.root, "a.pdf", first["pdf"]).state == "superseded"
    assert verify(agreed.root, "a.pdf", second["pdf"]).state == "issued"
    settings = (agreed.root / "program.toml").read_text(encoding="utf-8")
    (agreed.root / "program.toml").write_text(settings.replace("2032-08-20", "2032-12-02"), encoding="utf-8")
    assert verify(agreed.root, "a.html", second["html"]).state == "expired"
    (agreed.root / "program.toml").write_text(settings, encoding="utf-8")
    consent_book.withdraw(agreed.root, "T1", "Ira")
    for form, content in second.items():
        verdict = verify(agreed.root, f"a.{form}", content)
        assert (verdict.state, verdict.good) == ("withdrawn", False)
    other = tmp_path / "other"
    (other / "landing").mkdir(parents=True)
    assert verify(other, "a.pdf", second["pdf"]).state == "unknown"


def test_every_edited_digit_of_the_web_page_is_told(agreed: Camp, monkeypatch: pytest.MonkeyPatch) -> None:
    text = _files(agreed)["html"].decode()
    # whether the page still stands is asked before each of 273 files, takes most of the time, and is tested above
    monkeypatch.setattr(verifying, "_superseded_now", lambda *_: False)
    monkeypatch.setattr(verifying, "mark_withdrawn", lambda *_: None)
    body = text.index("<body>")
    places = [m.start() for m in re.finditer(r"\d", text) if m.start() > body]
    assert len(places) > 400
    for at in places[::23]:
        edited = text[:at] + str((int(text[at]) + 1) % 10) + text[at + 1 :]
        verdict = verify(agreed.root, "a.html", edited.encode())
        assert verdict.state in {"edited", "unknown"}, text[at - 20 : at + 20]
    at = text.index(" mph") - 1
    edited = text[:at] + str((int(text[at]) + 1) % 10) + text[at + 1 :]
    verdict = verify(agreed.root, "a.html", edited.encode())
    assert verdict.state == "edited"
    assert re.fullmatch(r"issued '[\d.]+', the file says '[\d.]+'", verdict.differences[0])


def test_every_edited_value_of_the_data_is_told_but_not_its_layout(agreed: Camp) -> None:
    data = json.loads(_files(agreed)["json"])
    assert verify(agreed.root, "a.json", json.dumps(data).encode()).state == "issued"
    changed = json.loads(json.dumps(data))
    changed["measures"][0]["best"]["best"] += 4
    verdict = verify(agreed.root, "a.json", json.dumps(changed).encode())
    assert verdict.state == "edited"
    assert verdict.differences[0].startswith("measures[0].best.best: issued ")
    for key in ("signature", "public_key"):
        assert verify(agreed.root, "a.json", json.dumps({**data, key: "AAAA"}).encode()).state == "edited"


def test_an_edited_pdf_is_told(agreed: Camp) -> None:
    content = _files(agreed)["pdf"]
    saved = io.BytesIO()
    PdfWriter(clone_from=PdfReader(io.BytesIO(content))).write(saved)
    again = verify(agreed.root, "a.pdf", saved.getvalue())
    assert again.state == "edited"
    assert "the words are those of the page issued, but the file is not the file issued" in again.words
    writer = PdfWriter(clone_from=PdfReader(io.BytesIO(content)))
    page = writer.pages[0]
    over = DecodedStreamObject()
    over.set_data(page.get_contents().get_data() + b"\nBT /F9 9 Tf 100 700 Td (99.9) Tj ET")
    page[NameObject("/Contents")] = writer._add_object(over)
    out = io.BytesIO()
    writer.write(out)
    assert verify(agreed.root, "a.pdf", out.getvalue()).state == "edited"


def test_a_damaged_register_vouches_for_nothing(agreed: Camp) -> None:
    content = _files(agreed)["pdf"]
    path = agreed.root / "landing" / "register.jsonl"
    full = path.read_text(encoding="utf-8")
    path.write_text(full.replace('"valid_until": "2032', '"valid_until": "2039'), encoding="utf-8")
    verdict = verify(agreed.root, "a.pdf", content)
    assert verdict.state == "unknown"
    assert "not signed by this program" in verdict.words
    with pytest.raises(SummaryError, match="is not signed by this program; restore it"):
        _issue(agreed)


def test_the_key_is_the_owners_only(agreed: Camp) -> None:
    key = keys.signer(agreed.root)
    path = agreed.root / "keys" / "summary-signing.pem"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert keys.signer(agreed.root).public_text == key.public_text
    assert json.loads(_files(agreed)["json"])["provenance"]["fingerprint"] == key.fingerprint
    path.chmod(0o644)
    with pytest.raises(SummaryError, match="can be read by others"):
        keys.signer(agreed.root)


@pytest.mark.parametrize("junk", [b"", b"%PDF-1.7 broken", b"{", b"\xff\xfe", b"a,b\n1,2\n", b"[" * 100_000])
def test_what_is_no_summary_is_one_clear_error(agreed: Camp, junk: bytes) -> None:
    _files(agreed)
    with pytest.raises(SummaryError, match="cannot be read as a summary"):
        verify(agreed.root, "a.x", junk)


@pytest.mark.parametrize("name", NASTY.values(), ids=NASTY.keys())
def test_names_that_attack(heath: Camp, name: str) -> None:
    _recall(heath, name_shown=name)
    (made,) = _issue(heath)
    assert isinstance(made, Issued), made
    for file in made.files:
        assert re.fullmatch(r"[a-z0-9-]{1,60}_[0-9a-f]{8}\.(pdf|html|json|csv)", file)
    by_form = {Path(f).suffix[1:]: c for f, c in made.files.items()}
    html = by_form["html"].decode()
    assert "<script" not in html
    assert "<b>Bo" not in html
    assert "\u202e" not in html
    assert len(PdfReader(io.BytesIO(by_form["pdf"])).pages) <= 2
    if name.isascii():
        flat = "".join(shown_name(name).split())
        assert flat in "".join(pdf_text(by_form["pdf"]).split())
    row = next(csv.DictReader(io.StringIO(by_form["csv"].decode("utf-8-sig"), newline="")))
    assert not row["name"].startswith(("=", "+", "-", "@", "\t"))
    assert len(json.loads(by_form["json"])["person"]["name"]) <= 80
    assert all(verify(heath.root, f, c).state == "issued" for f, c in made.files.items())


@pytest.mark.parametrize("text", ["=1", "+1", "-1", "@a", "\t=1", "\r=1", " =1", "＝1", "|x", "%x"])
def test_no_cell_begins_like_a_formula(text: str) -> None:
    assert safe_cell(text) == f"'{text}"


def test_file_names_stay_in_their_folder_and_nothing_is_written_over(agreed: Camp, tmp_path: Path) -> None:
    assert file_stem("..\\..\\CON") == "con"
    (made,) = _issue(agreed)
    assert isinstance(made, Issued)
    paths = issue.write_files(tmp_path / "out", made)
    assert {p.parent for p in paths} == {tmp_path / "out"}
    with pytest.raises(SummaryError, match="cannot be written"):
        issue.write_files(tmp_path / "out", made)
    with pytest.raises(SummaryError, match="has no athletes"):
        issue.athletes_of_camp(open_run(agreed.root, "Ira").record, "../../etc")
    with pytest.raises(SummaryError, match="a page is named by"):
        register.printed(agreed.root, "../../../etc/passwd")


def test_a_camp_as_a_whole(agreed: Camp) -> None:
    run = open_run(agreed.root, "Ira", forms=("json",))
    results = list(issue.issue(run, issue.athletes_of_camp(run.record, "K")))
    assert [r.athlete_id for r in results if isinstance(r, Issued)] == ["T1"]
    assert len([r for r in results if isinstance(r, Refused)]) == 25
    assert date(2032, 8, 20) == run.record.today
