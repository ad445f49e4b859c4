"""The page for athlete and family: what it may hold, how it reads, and that no page is made without consent."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from datetime import date

import pytest
from pypdf import PdfReader

from latewood.pipeline.errors import ConsentError, DecisionError, SummaryError
from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import FAMILY, FIELDS
from latewood.pipeline.ingest.logs import audit, focus, planlog
from latewood.pipeline.pages.family import model
from latewood.pipeline.pages.family.issue import FamilyOrder, family_of, issue_family, why_not
from latewood.pipeline.pages.family.make import MOST, kind_of, tape_of
from latewood.pipeline.pages.family.page import make_page, page_texts, sentences_of
from latewood.pipeline.pages.record import TrendRow, read_record
from latewood.pipeline.pages.recruit.issue import open_run, preview
from latewood.pipeline.pages.recruit.web import web_text
from tests.conftest import Camp
from tests.pipeline.pages.conftest import GIVEN, OTHERS
from tests.reading_level import grade

OK = replace(GIVEN, purpose=FAMILY, fields=("height",))
MOST_BYTES = 300_000
TREND = TrendRow(
    change=1.0, low=0.2, high=1.8, level=0.95, weeks=6.0, sessions=5, planned=5, first_on=date(2032, 6, 2),
    last_on=date(2032, 7, 13), fitted_start=33.0, reason="",
)  # fmt: skip


@pytest.fixture
def willing(heath: Camp) -> Camp:
    consent_book.record(heath.root, OK, "Ira")
    return heath


def family(camp: Camp, units: str = "us") -> model.Family:
    return family_of(read_record(camp.root), "T1", units)


def squeezed(text: str) -> str:
    return re.sub(r"\s", "", text)


def test_without_consent_to_this_purpose_nothing_is_made(agreed: Camp) -> None:
    assert "no consent is recorded" in why_not(
        agreed.root, "T1"
    )  # one for recruiters is recorded, and is another
    with pytest.raises(SummaryError, match="page for the family: no consent is recorded"):
        issue_family(agreed.root, "T1", "Ira")
    last = audit.lines(agreed.root)[-1]
    assert (last.event, last.details["what"]) == ("export refused", "family page")


def test_consent_to_a_family_page_lets_nothing_go_to_a_recruiter(willing: Camp) -> None:
    run = open_run(willing.root, "Ira")
    with pytest.raises(SummaryError, match="no consent is recorded"):
        preview(run, consent_book.standing(willing.root), "T1")
    assert consent_book.refusals(willing.root)["T1"]
    assert consent_book.refusals(willing.root, FAMILY)["T1"] == ""


def test_each_purpose_is_withdrawn_by_itself(agreed: Camp) -> None:
    consent_book.record(agreed.root, OK, "Ira")
    consent_book.withdraw(agreed.root, "T1", "Ira", FAMILY)
    assert "withdrawn" in why_not(agreed.root, "T1")
    assert consent_book.refusals(agreed.root)["T1"] == ""
    with pytest.raises(ConsentError, match="no consent that could be withdrawn"):
        consent_book.withdraw(agreed.root, "T1", "Ira", FAMILY)


def test_a_page_is_noted_by_token_and_names_nobody_in_the_log(willing: Camp) -> None:
    made = issue_family(willing.root, "T1", "Ira", FamilyOrder(forms=("pdf", "html"))).files
    assert sorted(name.rpartition(".")[2] for name in made) == ["html", "pdf"]
    last = audit.lines(willing.root)[-1]
    assert (last.event, last.who, last.details["what"]) == ("export", "Ira", "family page")
    assert last.details["subject"] == audit.subject(willing.root, "T1")
    assert "T1" not in str(last.details)
    assert "Fernmoss" not in str(last.details)


def test_five_rails_whatever_came_out_of_them(willing: Camp) -> None:
    rails = family(willing).rails
    assert len(rails) == MOST == 5
    assert [rail.key for rail in rails] == [
        "exit_speed", "sprint_10yd", "trap_bar_deadlift", "countermovement_jump", "bat_speed",
    ]  # fmt: skip


@pytest.mark.parametrize(("low", "high"), [(0.2, 0.9), (-0.9, -0.2), (-0.3, 0.4), (0.0, 0.9)])
@pytest.mark.parametrize(("lower", "unit"), [(False, "mph"), (True, "s")])
@pytest.mark.parametrize("days", [2, 5])
def test_what_cannot_be_decided_is_not_called_a_gain(
    willing: Camp, low: float, high: float, lower: bool, unit: str, days: int
) -> None:
    made = family(willing)
    change = (low + high) / 2
    rail = replace(
        made.rails[0], kind=model.OPEN, lower_is_better=lower, unit=unit, decimals=2, days=days, start=5.0,
        end=5.0 + change, change=change, low=low, high=high,
    )  # fmt: skip
    (line,) = make_page(replace(made, rails=(rail,))).parts[0].lines
    both_sides = "could be" in line.sentence
    assert not re.search(r"better|worse|step up|step down|gain|improve", line.sentence)
    went = line.sentence.split(". ")[0]
    assert not re.search(r"faster|slower|more|less", went)
    if low * high > 0 and days > 2:
        assert not both_sides
        assert "luck can do the same" in line.sentence
        assert not re.search(r"faster|slower|\d more|less", line.sentence)
    else:
        assert both_sides
    assert grade([line.sentence]) <= 8.0


@pytest.mark.parametrize("kind", [model.SAME, model.OPEN])
def test_only_a_clear_change_of_time_is_called_faster(willing: Camp, kind: str) -> None:
    (rail,) = (one for one in family(willing).rails if one.key == "sprint_10yd")
    turned = replace(rail, kind=kind, days=5, start=1.9, end=1.88, change=-0.02, low=-0.05, high=0.01)
    (line,) = make_page(replace(family(willing), rails=(turned,))).parts[0].lines
    assert "0.02 seconds faster" not in line.sentence


def test_no_other_athlete_rank_percentile_or_projection_is_on_the_page(willing: Camp) -> None:
    text = re.sub(
        r"\b[0-9a-f]{12,}\b", "", " ".join(page_texts(make_page(family(willing))))
    )  # ids hold any digits
    assert not re.search(
        r"percentile|rank|peer|average|other athletes|expected|project|best of", text, re.IGNORECASE
    )
    assert not any(f"Number{i}" in text for i in range(OTHERS))
    for word in ("2016", "birth", "T1@", "fat", "interval", "95", "±"):
        assert word not in text


def test_mass_is_shown_only_where_it_was_asked_for_and_not_hidden(willing: Camp) -> None:
    assert "Body mass" not in " ".join(page_texts(make_page(family(willing))))
    consent_book.record(willing.root, replace(OK, fields=FIELDS), "Ira")
    requested = make_page(family(willing))
    assert any(words.startswith("Body mass: ") for words in requested.body)
    assert any("not a goal" in care for care in requested.cares)
    planlog.hide_mass(willing.root, "T1", "Ira", hidden=True)
    hidden = make_page(family(willing))
    assert not any(words.startswith("Body mass") for words in hidden.body)
    assert not any("not a goal" in care for care in hidden.cares)


def test_measures_that_were_not_agreed_to_stay_out(willing: Camp) -> None:
    consent_book.record(willing.root, replace(OK, measures=("sprint_10yd",)), "Ira")
    assert [rail.key for rail in family(willing).rails] == ["sprint_10yd"]


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_sheet_and_web_page_hold_the_same_words_within_two_sheets_and_300_kb(
    willing: Camp, paper: str
) -> None:
    focus.write(
        willing.root,
        focus.NewFocus(
            athlete_id="T1",
            text="x" * 20 + " " + "long words " * 25,
            measure="exit_speed",
            review_on=date(2032, 9, 1),
        ),
        "Fen",
    )
    record = read_record(willing.root)
    order = FamilyOrder(forms=("pdf", "html"), paper=paper)
    made = issue_family(willing.root, "T1", "Ira", order, record).files
    texts = list(page_texts(make_page(family_of(record, "T1"))))
    by_form = {name.rpartition(".")[2]: content for name, content in made.items()}
    assert all(len(content) < MOST_BYTES for content in by_form.values())
    reader = PdfReader(io.BytesIO(by_form["pdf"]))
    assert len(reader.pages) <= 2
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    printed = squeezed("".join(page.extract_text() for page in reader.pages))
    on_phone = squeezed("".join(web_text(by_form["html"].decode())))
    for text in texts:
        assert squeezed(text) in printed, text
        assert squeezed(text) in on_phone, text
    assert b"<script" not in by_form["html"]
    assert not re.search(rb'(?:src|href)="', by_form["html"])


@pytest.mark.parametrize("kind", [model.BETTER, model.SAME, model.WORSE, model.OPEN])
@pytest.mark.parametrize("lower", [False, True])
def test_it_reads_at_grade_eight_or_below(willing: Camp, kind: str, lower: bool) -> None:
    made = family(willing)
    step = model.NextStep(
        text="x", label="Exit speed", plain="how fast the ball leaves the bat", until=date(2032, 9, 1)
    )
    turned = [
        replace(rail, kind=kind, lower_is_better=lower, change=1.0, low=-0.5, high=2.0) for rail in made.rails
    ]
    page = make_page(replace(made, rails=tuple(turned), next_step=step, weighs=True, throws=True))
    assert grade(sentences_of(page)) <= 8.0
    for sentence in sentences_of(page):
        assert grade([sentence]) <= 8.0, sentence


def test_verdicts_become_headings() -> None:
    assert kind_of("clear gain", TREND, 5.0) == model.BETTER
    assert kind_of("clear loss", TREND, 5.0) == model.WORSE
    assert kind_of("not clear yet", TREND, 1.8) == model.SAME
    assert kind_of("not clear yet", TREND, 1.7) == model.OPEN
    assert kind_of("not clear yet", replace(TREND, low=-1.9), 1.8) == model.OPEN
    assert kind_of("not clear yet", TREND, None) == model.OPEN
    assert kind_of("clear gain", replace(TREND, sessions=3), 5.0) == model.OPEN
    assert kind_of("clear gain", None, 5.0) == model.OPEN


@pytest.mark.parametrize(("z", "beyond"), [(2.1, True), (2.0, False), (-3.0, True), (0.01, False)])
def test_a_mark_lies_beyond_the_band_exactly_where_the_verdict_is_clear(z: float, beyond: bool) -> None:
    tape = tape_of(replace(TREND, change=0.3 * z), z)
    assert tape is not None
    assert (abs(0.3 * z) > tape) == beyond


def test_less_time_is_drawn_to_the_right_and_said(willing: Camp) -> None:
    (rail,) = (one for one in family(willing).rails if one.key == "sprint_10yd")
    page = make_page(
        replace(
            family(willing),
            rails=(replace(rail, kind=model.BETTER, start=1.9, end=1.7, change=-0.2, low=-0.3, high=-0.1),),
        )
    )
    (line,) = page.parts[0].lines
    assert "from about 1.90 seconds to about 1.70 seconds: 0.20 seconds faster." in line.sentence
    marks = [float(x) for x in re.findall(r'(?:cx="|d="M)([\d.]+)', line.chart)]
    assert marks[1] + 6.5 > marks[0] + 20  # the filled mark, whose left corner is named, right of the ring


def test_a_change_of_method_within_the_stay_is_not_joined(willing: Camp) -> None:
    made = family(willing)
    page = make_page(replace(made, rails=(replace(made.rails[0], change=None, mixed=True, kind=model.OPEN),)))
    assert "can't compare" in page.parts[0].lines[0].sentence


def test_the_focus_is_on_the_page_with_the_measure_that_will_show_it(willing: Camp) -> None:
    assert make_page(family(willing)).steps == ("", "Your coach will talk with you about the next step.")
    focus.write(
        willing.root,
        focus.NewFocus(
            athlete_id="T1", text="Ten slow swings.", measure="exit_speed", review_on=date(2032, 9, 1)
        ),
        "Fen",
    )
    steps = make_page(family(willing)).steps
    assert steps == (
        "Your coach writes: “Ten slow swings.”",
        "We will look at your exit speed (how fast the ball leaves the bat) again on 1 Sep 2032.",
    )


def test_a_focus_on_health_from_before_the_check_stays_off_the_page(
    willing: Camp, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(focus, "word_of_health", lambda text: "")
    draft = focus.NewFocus(
        athlete_id="T1", text="Rehab of the elbow.", measure="exit_speed", review_on=date(2032, 9, 1)
    )
    focus.write(willing.root, draft, "Fen")
    assert make_page(family(willing)).steps == ("", "Your coach will talk with you about the next step.")


def test_a_name_that_attacks_is_text(willing: Camp) -> None:
    consent_book.record(willing.root, replace(OK, name_shown="<script>x</script> #set page()"), "Ira")
    made = issue_family(willing.root, "T1", "Ira", FamilyOrder(forms=("pdf", "html"))).files
    page = next(content for name, content in made.items() if name.endswith("html")).decode()
    assert "<script" not in page
    assert "&lt;script&gt;" in page


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"text": "  "}, "the focus is empty"),
        ({"text": "x" * 301}, "up to 300 are kept"),
        ({"text": "Rest the sore elbow."}, "speaks of health .'sore'.*leave that out"),
        ({"measure": "launch_angle", "target": 12.0}, "neither more nor less is better"),
        ({"target": 70.0}, "is no possible value of sprint_10yd"),
        ({"measure": "luck"}, "not in the catalogue"),
        ({"measure": "body_mass"}, "about the body is no focus"),
        ({"review_on": date(2032, 8, 20)}, "not after today"),
    ],
)
def test_a_focus_that_cannot_stand_is_refused_and_not_written(
    heath: Camp, changed: dict[str, object], said: str
) -> None:
    good = {
        "athlete_id": "T1",
        "text": "Run.",
        "measure": "sprint_10yd",
        "review_on": date(2032, 9, 1),
    }
    draft = focus.NewFocus(**(good | changed))
    with pytest.raises(DecisionError, match=said):
        focus.write(heath.root, draft, "Fen")
    assert focus.read_log(heath.root) == ()


def test_a_focus_names_who_writes_it(heath: Camp) -> None:
    draft = focus.NewFocus(athlete_id="T1", text="Run.", measure="sprint_10yd", review_on=date(2032, 9, 1))
    with pytest.raises(DecisionError, match="who writes the focus is not named"):
        focus.write(heath.root, draft, " ")
    assert focus.read_log(heath.root) == ()


def test_the_focus_log_is_added_to_and_noted(heath: Camp) -> None:
    for text in ("Run.", "Run more."):
        focus.write(
            heath.root,
            focus.NewFocus(athlete_id="T1", text=text, measure="sprint_10yd", review_on=date(2032, 9, 1)),
            "Fen",
        )
    log = focus.of_athlete(heath.root, "T1")
    assert [one.text for one in log] == ["Run.", "Run more."]
    assert log[0].focus_id != log[1].focus_id
    assert (log[0].on, log[0].until) == (date(2032, 8, 20), date(2032, 9, 1))
    last = audit.lines(heath.root)[-1]
    assert (last.event, last.details["focus"]) == ("decision", log[1].focus_id)


def test_erasing_empties_the_focus_and_what_names_the_athlete(heath: Camp) -> None:
    for athlete, text in (("T1", "Run."), ("R1", "Throw with Fernmoss."), ("R2", "Swing.")):
        focus.write(
            heath.root,
            focus.NewFocus(athlete_id=athlete, text=text, measure="exit_speed", review_on=date(2032, 9, 1)),
            "Fen",
        )
    assert focus.forget(heath.root, "T1", lambda said: "Fernmoss" in said) == 1
    assert [(one.athlete_id, one.text) for one in focus.read_log(heath.root)] == [
        ("R1", "erased"),
        ("R2", "Swing."),
    ]


def test_too_few_test_days_ask_for_the_number_that_a_verdict_needs(willing: Camp) -> None:
    made = family(willing)
    few = replace(
        made.rails[0], kind=model.OPEN, days=3, start=277.0, end=303.0, change=26.0, low=7.0, high=45.0
    )
    page = make_page(replace(made, rails=(few,)))
    assert page.parts[0].lines[0].sentence.endswith("We need 4 test days to be sure.")
    assert grade(sentences_of(page)) <= 8.0


def test_height_is_said_in_feet_and_inches_as_on_a_recruiters_page(willing: Camp) -> None:
    (height,) = (one for one in family(willing).body if one.label == "Standing height")
    assert re.fullmatch(r"5 ft \d+\.\d in", height.text)
