"""The case of a stay: its numbers are those of the build, it says where there is nothing, and who may have it."""

from __future__ import annotations

import io
import re
from contextlib import closing
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from pypdf import PdfReader
from typer.testing import CliRunner

from latewood.pipeline.care.erase import erase
from latewood.pipeline.cli.main import app
from latewood.pipeline.errors import DecisionError, SummaryError
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import FAMILY, FIELDS
from latewood.pipeline.ingest.logs import audit, case_words, focus, planlog
from latewood.pipeline.ingest.logs.case_words import NewWords
from latewood.pipeline.pages.case.issue import CaseOrder, case_of, issue_case
from latewood.pipeline.pages.case.page import CasePage, page_texts
from latewood.pipeline.pages.case.pdf import render_pdf
from latewood.pipeline.warehouse.connection import open_published
from tests.conftest import Camp
from tests.pipeline.pages.conftest import GIVEN

OK = replace(GIVEN, purpose=FAMILY, fields=("height",))
MPH = 2.2369362920544  # per m/s, by definition of the mile and the hour
STAY = "T1@K"


def lines_of(page: CasePage, key: str) -> list[str]:
    return [line.sentence for part in page.parts if part.key == key for line in part.lines]


def say(root: Path, part: str, text: str, *, family: bool = False) -> None:
    case_words.write(
        root, NewWords(athlete_id="T1", stay_id=STAY, part=part, text=text, family=family), "Fen"
    )


def aim(root: Path) -> None:
    draft = focus.NewFocus(
        athlete_id="T1", text="Run tall.", measure="exit_speed", review_on=date(2032, 9, 1)
    )
    focus.write(root, draft, "Fen")


def text_of(content: bytes) -> tuple[int, str]:
    book = PdfReader(io.BytesIO(content))
    return len(book.pages), re.sub(r"\s", "", "".join(page.extract_text() for page in book.pages))


def test_each_number_of_the_page_is_the_one_of_the_published_build(heath: Camp) -> None:
    """Read from the tables by an own statement and turned into mph here, so no code of the page is in it."""
    page = case_of(heath.root, "T1", CaseOrder())
    ((first, apart, change, low, high, start, n, verdict),) = heath.rows(
        "select v.value, e.minimal_change_one, t.change, t.low, t.high, t.fitted_start, t.n_sessions, t.verdict "
        "from session_value v join trend t using (athlete_id, stay_id, measure, line) "
        "join measurement_error e using (measure, line) "
        "where athlete_id = 'T1' and measure = 'exit_speed' and v.is_intake"
    )
    half = apart / 2**0.5
    (seen,) = (one for one in lines_of(page, "seen") if one.startswith("Exit speed"))
    true_level = f"true level {(first - half) * MPH:.1f} to {(first + half) * MPH:.1f}"
    assert f"{first * MPH:.1f} mph ({true_level})" in seen
    moved = [line for part in page.parts if part.head.startswith("What we can't") for line in part.lines]
    (exit_speed,) = (one for one in moved if one.name.startswith("Exit speed"))
    signed = [f"{value * MPH:+.1f}".replace("-", "−") for value in (change, low, high)]
    assert f"{signed[0]} mph ({signed[1]} to {signed[2]})" in exit_speed.text
    assert f"from about {start * MPH:.1f} mph to {(start + change) * MPH:.1f} mph" in exit_speed.text
    assert verdict in exit_speed.text
    assert exit_speed.source.startswith(f"{n} test days, ")
    ((imports,),) = heath.rows("select distinct imports from session_value where measure = 'exit_speed'")
    assert imports[:6] in exit_speed.source


def test_links_and_projections_are_the_rows_of_the_demos_build(demo_root: Path) -> None:
    query = (
        "select l.athlete_id, l.stay_id, l.expected, l.expected_low, l.expected_high, l.mass_change, p.value, "
        "p.low, p.high from athlete_link l join projection p using (athlete_id, stay_id, measure, line) "
        "where l.measure = 'exit_speed' and l.verdict = 'estimated' and p.kind = 'date' and p.verdict = 'shown' "
        "qualify p.target_on = max(p.target_on) over (partition by stay_id, line) order by 1, p.line limit 3"
    )
    with closing(open_published(demo_root)) as connection:
        rows = connection.execute(query).fetchall()
    assert len(rows) == 3
    for athlete, stay, *numbers in rows:
        page = case_of(demo_root, athlete, CaseOrder(stay_id=stay, units="metric"))
        kg = numbers.pop(3)
        expected, low, high, value, from_, to = (one * 3.6 for one in numbers)  # km/h
        signed = [re.sub("^-", "−", f"{one:+.1f}") for one in (expected, low, high, kg)]
        signed = [re.sub(r"^[+−]0\.0$", "0.0", one) for one in signed]
        (linked,) = (one for one in lines_of(page, "mass") if one.startswith("Exit speed"))
        assert f"{signed[0]} km/h ({signed[1]} to {signed[2]})" in linked
        assert f"goes with {signed[3]} kg" in linked
        assert ("which may be zero" in linked) == (low <= 0 <= high)
        assert any(f"{value:.1f} km/h ({from_:.1f} to {to:.1f})" in one for one in lines_of(page, "next"))
        assert "cannot be separated" in " ".join(page_texts(page))
        assert "not what caused what" in " ".join(page_texts(page))


def test_what_is_clear_is_clear_when_all_are_judged_together(demo_root: Path) -> None:
    query = (
        "select athlete_id, stay_id from trend group by all "
        "order by count(*) filter (verdict like 'clear%') desc, 1"
    )
    with closing(open_published(demo_root)) as connection:
        athlete, stay = connection.execute(query).fetchall()[0]
        verdicts = dict(
            connection.execute(
                "select label, verdict from trend join measure using (measure) where stay_id = ?", [stay]
            ).fetchall()
        )
    sure = [
        line
        for part in case_of(demo_root, athlete, CaseOrder(stay_id=stay)).parts
        if part.key == "changed"
        for line in part.lines
    ]
    assert sure
    for line in sure:
        label = max((one for one in verdicts if line.name.startswith(one)), key=len)
        assert verdicts[label].startswith("clear")
        assert line.text.endswith(f"{verdicts[label]}.")
        assert re.search(r"\(.+ to .+\)", line.text)


def test_where_nothing_is_recorded_it_says_so(heath: Camp) -> None:
    page = case_of(heath.root, "T2", CaseOrder())
    words = " ".join(page_texts(page))
    for text in (
        "Nothing was measured in this stay.", "No movement observation is recorded", "No focus was written down",
        "Nothing can be said of changes", "Nothing else was tested.", "it takes weigh-ins over the stay",
        "The records say nothing of what comes next",
    ):  # fmt: skip
        assert text in words
    assert all(part.words is None for part in page.parts)


def test_the_coachs_words_stand_beside_their_part_and_can_be_taken_back(heath: Camp) -> None:
    aim(heath.root)
    say(heath.root, "changed", "The swing is calmer.")
    say(heath.root, "changed", "The swing is *much* calmer.")
    page = case_of(heath.root, "T1", CaseOrder())
    (changed,) = (part for part in page.parts if part.key == "changed")
    assert changed.words is not None
    assert (changed.words.text, changed.words.by) == ("The swing is *much* calmer.", "Fen, 20 Aug 2032")
    assert any("“Run tall.”" in one for one in lines_of(page, "worked"))
    last = audit.lines(heath.root)[-1]
    assert (last.event, last.who, last.details["part"]) == ("decision", "Fen", "changed")
    assert "T1" not in str(last.details)
    say(heath.root, "changed", "")
    assert all(part.words is None for part in case_of(heath.root, "T1", CaseOrder()).parts)
    assert len(case_words.read_log(heath.root)) == 3


@pytest.mark.parametrize(
    ("part", "text", "by", "why"),
    [
        ("changed", "x", " ", "not named"), ("rank", "x", "Fen", "is not one of seen, worked"),
        ("next", "x" * 401, "Fen", "401 characters; up to 400"),
    ],
)  # fmt: skip
def test_words_that_cannot_be_kept_are_refused(heath: Camp, part: str, text: str, by: str, why: str) -> None:
    draft = NewWords(athlete_id="T1", stay_id=STAY, part=part, text=text)
    with pytest.raises(DecisionError, match=why):
        case_words.write(heath.root, draft, by)
    assert case_words.read_log(heath.root) == ()


def test_ratings_are_only_on_a_page_for_whom_may_see_them(demo_root: Path) -> None:
    with closing(open_published(demo_root)) as connection:
        query = (
            "select athlete_id, stay_id from stay join observation o using (athlete_id) "
            "where o.observed_on between arrived_on and coalesce(left_on, planned_until) order by 1 limit 1"
        )
        athlete, stay = connection.execute(query).fetchone()
    given = " ".join(page_texts(case_of(demo_root, athlete, CaseOrder(stay_id=stay))))
    without = " ".join(page_texts(case_of(demo_root, athlete, CaseOrder(stay_id=stay, observations=False))))
    assert "Drive-leg valgus" in given
    assert "valgus" not in without
    assert "Ratings are for the coaches." in without


def test_mass_that_is_hidden_is_on_no_case(heath: Camp) -> None:
    assert "Body mass: " in " ".join(lines_of(case_of(heath.root, "T1", CaseOrder()), "seen"))
    planlog.hide_mass(heath.root, "T1", "Ira", hidden=True)
    page = case_of(heath.root, "T1", CaseOrder())
    assert "Body mass: " not in " ".join(lines_of(page, "seen"))
    assert lines_of(page, "mass") == [
        "Body mass is hidden for this athlete, so nothing of it is on this page."
    ]


def test_without_consent_no_case_goes_to_the_family_and_the_refusal_is_noted(agreed: Camp) -> None:
    with pytest.raises(SummaryError, match="page for the family: no consent is recorded"):
        issue_case(agreed.root, "T1", "Ira", CaseOrder(family=True))
    last = audit.lines(agreed.root)[-1]
    assert (last.event, last.details["what"]) == ("export refused", "case for the family")
    consent_book.record(agreed.root, OK, "Ira")
    consent_book.withdraw(agreed.root, "T1", "Ira", FAMILY)
    with pytest.raises(SummaryError, match="withdrawn"):
        case_of(agreed.root, "T1", CaseOrder(family=True))


def test_the_family_reads_only_what_the_family_page_may_show_and_words_marked_for_it(heath: Camp) -> None:
    consent_book.record(heath.root, replace(OK, measures=("sprint_10yd",)), "Ira")
    aim(heath.root)
    say(heath.root, "changed", "You run freely now.", family=True)
    say(heath.root, "next", "Call the school.")
    say(heath.root, "mass", "Eat breakfast.", family=True)
    words = " ".join(page_texts(case_of(heath.root, "T1", CaseOrder(family=True))))
    assert "You run freely now." in words
    assert "“Run tall.”" in words
    assert "10-yard sprint" in words
    for text in ("Exit speed:", "Body mass", "breakfast", "school", "percentile", "expected", "95 %", "Reed"):
        assert text not in words, text
    consent_book.record(heath.root, replace(OK, fields=FIELDS), "Ira")
    shown = " ".join(page_texts(case_of(heath.root, "T1", CaseOrder(family=True))))
    assert "Body mass: " in shown
    assert "Eat breakfast." in shown
    planlog.hide_mass(heath.root, "T1", "Ira", hidden=True)
    hidden = " ".join(page_texts(case_of(heath.root, "T1", CaseOrder(family=True))))
    assert "Body mass" not in hidden
    assert "Eat breakfast." not in hidden


@pytest.mark.parametrize(
    ("athlete", "stay", "why"),
    [("T9", "", "is not on any roster"), ("T1", "T1@Z", "has no stay 'T1@Z'; give one of T1@K")],
)
def test_an_unknown_athlete_or_stay_is_refused_in_one_line(
    heath: Camp, athlete: str, stay: str, why: str
) -> None:
    with pytest.raises(SummaryError, match=why):
        issue_case(heath.root, athlete, "Ira", CaseOrder(stay_id=stay))
    assert audit.lines(heath.root)[-1].event == "export refused"


def test_the_command_writes_one_sheet_that_holds_every_word_of_the_page(heath: Camp, tmp_path: Path) -> None:
    aim(heath.root)
    say(heath.root, "seen", "A quiet start. " * 20)
    out = tmp_path / "out"
    arguments = ["case", "T1", "--out", str(out), "--by", "Ira", "--data", str(heath.root)]
    done = CliRunner().invoke(app, arguments)
    assert done.exit_code == 0, done.output
    (path,) = out.iterdir()
    sheets, printed = text_of(path.read_bytes())
    assert sheets == 1
    for text in page_texts(case_of(heath.root, "T1", CaseOrder())):
        assert re.sub(r"\s", "", text) in printed, text
    last = audit.lines(heath.root)[-1]
    assert (last.event, last.who, last.details["what"]) == ("export", "Ira", "case")


@pytest.mark.slow
def test_every_case_of_the_demo_is_one_sheet(demo_root: Path) -> None:
    with closing(open_published(demo_root)) as connection:
        stays = connection.execute("select athlete_id, stay_id from stay order by stay_id").fetchall()
    assert len(stays) > 200
    for athlete, stay in stays[::9]:
        sheet = render_pdf(case_of(demo_root, athlete, CaseOrder(stay_id=stay)))
        assert text_of(sheet)[0] == 1, stay


@pytest.mark.slow
def test_an_erasure_takes_the_words_and_no_case_is_left_in_the_folder(heath: Camp) -> None:
    say(heath.root, "changed", "Calm as a pond.")
    case_words.write(
        heath.root,
        NewWords(
            athlete_id="R1",
            stay_id="R1@K",
            part="next",
            text="Throw with Fernmoss-Siltwood, Maximilian Bartholomew.",
        ),
        "Fen",
    )
    issue_case(heath.root, "T1", "Ira", CaseOrder())
    assert not list(heath.root.rglob("*.pdf"))
    erase(heath.root, "T1", "Odalys")
    left = case_words.read_log(heath.root)
    assert [one.athlete_id for one in left] == ["R1"]
    assert "Fernmoss" not in left[0].text
    assert "Calm as a pond." not in "".join(
        path.read_text(errors="replace")
        for path in heath.root.rglob("*")
        if path.suffix in {".jsonl", ".json"}
    )
    with pytest.raises(SummaryError, match="is not on any roster"):
        case_of(heath.root, "T1", CaseOrder())


def test_words_on_health_are_refused_and_older_ones_do_not_leave(
    heath: Camp, monkeypatch: pytest.MonkeyPatch
) -> None:
    with pytest.raises(DecisionError, match=r"speaks of health .'surgery'"):
        say(heath.root, "changed", "Strong again after surgery.", family=True)
    consent_book.record(heath.root, replace(OK, fields=FIELDS), "Ira")
    monkeypatch.setattr(case_words, "word_of_health", lambda text: "")
    say(heath.root, "changed", "Strong again after surgery.", family=True)
    words = " ".join(page_texts(case_of(heath.root, "T1", CaseOrder(family=True))))
    assert "surgery" not in words
