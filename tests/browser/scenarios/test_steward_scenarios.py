"""The data steward's desk: scenarios 11 to 15 and 17 of docs/scenarios.md, looked at in Chromium."""

from __future__ import annotations

import json
import re
from contextlib import closing
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page

from latewood.pipeline.warehouse.connection import open_published
from tests.browser.scenarios.looking import between, lines_of, look, plain, settle

PAIR = ("Rowan Thistlewick", "Rowan T. Thistlewick")
FIND = "Find an athlete, a file, a measure or a value"


def questions(tab: Page, words: str) -> Locator:
    """The questions that hold these words, after they were typed."""
    box = tab.get_by_label(FIND)
    box.fill(words)
    box.press("Enter")
    settle(tab)
    tab.wait_for_timeout(400)
    settle(tab)
    return tab.locator("[class*=st-key-data_open_]")


def opened(tab: Page, words: str, title: str) -> str:
    """The words of the one question of this title among those found, unfolded."""
    own = questions(tab, words).filter(has=tab.locator("summary").filter(has_text=title))
    own.locator("summary").wait_for(timeout=30_000)
    return unfolded(own)


def unfolded(own: Locator) -> str:
    """The words of a question, opened where it is not open yet."""
    if own.locator("details[open]").count() == 0:
        own.locator("summary").click()
    own.get_by_role("button", name="Write down the answer").wait_for(timeout=30_000)
    return plain(own.inner_text())


@pytest.fixture
def desk(demo) -> Page:
    look(demo.tab, f"{demo.address}/data", "Held rows are kept as they came")
    return demo.tab


@pytest.mark.parametrize(
    ("title", "came", "proposed"),
    [
        ("Looks like the right number in another unit: Oluwaseun Brackwater, Body mass", "168 kg", "76.2 kg"),
        ("Looks like the right number in another unit: Oluwaseun Brackwater, Throw", "132 mph", "82.0 mph"),
        ("Looks like a lost decimal point: gates_F_2033-07-25.csv, 10-yard sprint", "164 s", "1.64 s"),
    ],
)
def test_11_a_wrong_unit_or_point_is_shown_as_it_came_with_a_proposal(desk, title, came, proposed) -> None:
    text = opened(desk, "Brackwater", title)
    assert re.search(rf"Oluwaseun Brackwater .*?{came} {proposed}", text)
    assert "Take the proposal" in text


def test_12_a_whole_file_in_another_unit_is_one_question(demo, desk) -> None:
    held = "select count(*) from held_row where rule = 'whole_file_unit' and state = 'open' and field <> ''"
    with closing(open_published(demo.root)) as connection:
        assert connection.execute(held).fetchone()[0] > 400
    text = opened(desk, "station2_D_part2.csv", "A whole file seems to be in another unit")
    rows = int(re.search(r"station2_D_part2.csv, (\d+) rows", text)[1])
    assert rows > 300
    assert text.count("Write down the answer") == 1
    assert "one answer settles all" in text
    others = [one for one in lines_of(questions(desk, "station2_D_part2.csv").locator("summary"))]
    assert sum("A whole file" in one for one in others) == 1


def test_13_a_swapped_pair_is_held_and_exchanged_only_by_an_answer(own_demo) -> None:
    tab = own_demo.tab
    look(tab, f"{own_demo.address}/data", "Held rows are kept as they came")
    text = opened(tab, "Thistlewick", "swapped")
    assert "61.0 kg" in text
    assert "84.2 kg" in text
    form = questions(tab, "Thistlewick").filter(has=tab.locator("summary").filter(has_text="swapped"))
    form.get_by_text("Give each value to the other athlete").click()
    form.get_by_label("Your name").fill("Sage Fen")
    form.get_by_label("Why").fill("the two stood in one line")
    form.get_by_role("button", name="Write down the answer").click()
    tab.get_by_text("Written down: give each value to the other athlete").wait_for(timeout=30_000)
    written = (own_demo.root / "decisions.jsonl").read_text(encoding="utf-8").splitlines()
    both = [json.loads(one) for one in written[-2:]]
    assert {(one["action"], one["decided_by"]) for one in both} == {("assign", "Sage Fen")}
    given = {target["argument"] for one in both for target in one["targets"].values()}
    assert given == {own_demo.id_of(name) for name in PAIR}
    noted = (own_demo.root / "landing" / "audit.jsonl").read_text(encoding="utf-8").splitlines()
    decided = [json.loads(one) for one in noted[-len(both) :]]
    assert {(one["event"], one["who"]) for one in decided} == {("decision", "Sage Fen")}


def test_14_the_same_file_again_is_recognised(own_demo, demo_root) -> None:
    tab = own_demo.tab
    sent = next(Path(demo_root / "landing").glob("*/gates_F_2033-07-04.csv"))
    before = sorted(path.name for path in (own_demo.root / "landing").iterdir())
    look(tab, f"{own_demo.address}/data", "Held rows are kept as they came")
    tab.locator("input[type=file]").set_input_files(sent)
    tab.locator("[data-testid=stFileUploader]").get_by_text("gates_F").wait_for(timeout=30_000)
    form = tab.locator("[data-testid=stForm]").filter(
        has=tab.get_by_role("button", name="Import", exact=True)
    )
    form.get_by_label("Your name").fill("Sage Fen")
    form.get_by_role("button", name="Import", exact=True).click()
    tab.get_by_text("already there").wait_for(timeout=60_000)
    assert sorted(path.name for path in (own_demo.root / "landing").iterdir()) == before


def test_14_a_file_sent_again_with_corrections_asks_once(desk) -> None:
    text = opened(desk, "exit_export_D_2032-07-05_resent.csv", "")
    assert "5 rows" in text
    desk.get_by_text("Imported files and answers:").click()
    desk.get_by_text("Earlier files:").click()
    settle(desk)
    desk.get_by_text("0 of 390 taken, 5 held").wait_for(timeout=30_000)
    words = plain(desk.locator("[data-testid=stMain]").inner_text())
    assert "0 of 390 taken, 5 held, 385 already known or blank" in words


def test_15_one_reversed_sensor_is_proposed_and_no_order_is_given_before(demo, desk) -> None:
    text = opened(desk, "Vanamarsh", "One sensor runs against the others")
    assert "Torso peak speed" in text
    peaks = [float(n) for n in re.findall(r"(-?\d+\.\d) deg/s", text)]
    # told: largest +212, smallest -1104; the file holds the signed peak of each trial
    assert min(peaks) < -1000
    assert "Take the proposal" in text
    page = look(demo.tab, demo.athlete("Priya Vanamarsh"), "Order and timing of movement")
    demo.tab.get_by_text("Earlier test days").click()
    demo.tab.get_by_text("4 Jul 2033: windmill").first.wait_for(timeout=30_000)
    settle(demo.tab)
    page = plain(demo.tab.locator("[data-testid=stMain]").inner_text())
    held_day = between(page, "4 Jul 2033: windmill, 8 trials", "16 Jun 2033: windmill")
    assert "No verdict on order: torso reversed, waiting for a decision." in held_day
    assert "Torso waits for a decision 8 trials held" in held_day
    assert "Order pelvis" not in held_day


def test_16_a_lost_sensor_is_not_measured_and_the_order_is_of_the_rest(demo) -> None:
    page = look(demo.tab, demo.athlete("Priya Vanamarsh"), "Order and timing of movement")
    latest = page.split("25 Jul 2033: windmill, 8 trials", 1)[1].split("Earlier test days", 1)[0]
    assert "Not measured: hand." in latest
    assert re.search(r"Order pelvis → torso → upper arm → forearm in \d of 8", latest)
    assert "Hand not measured" in latest


def test_17_all_channels_reversed_asks_and_mends_nothing(desk) -> None:
    questions(desk, "Reedwhistle")
    text = opened_first(desk, "Every channel of an athlete runs backwards")
    assert "Correct the side on which the athlete hits or throws" in text
    assert "Proposal:" not in text
    assert "Take the proposal" not in text


def opened_first(tab: Page, title: str) -> str:
    own = (
        tab
        .locator("[data-testid=stExpander]")
        .filter(has=tab.locator("summary").filter(has_text=title))
        .first
    )
    return unfolded(own)
