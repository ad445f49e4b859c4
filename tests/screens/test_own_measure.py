"""The Data screen: a column that no measure is known for becomes a measure of the program's own."""

from __future__ import annotations

from pathlib import Path

from latewood.pipeline.catalogue.own import draft_of, entry_text
from tests.opening import words_of
from tests.screens.conftest import ask

FILE = b"Name,Day,Slingometer mph\nArlo Fernmoss,2032-07-01,41.5\nArlo Fernmoss,2032-07-08,43.0\n"
GIVEN = {
    "family": "skill_output", "unit": "mph", "better": "higher", "resolution": "0.5", "hard_low": "5",
    "hard_high": "90", "trials": "1", "summary": "median", "summary_reason": "One try.", "protocol": "One sling.",
    "source": "own practice",
}  # fmt: skip
CHOSEN = ("family", "unit", "better", "summary")


def press(page, label: str) -> None:
    next(button for button in page.button if button.label == label).click().run()


def test_a_column_becomes_a_measure_and_its_file_comes_in(own_root: Path, open_screen) -> None:
    page = open_screen(own_root, "data")
    page.file_uploader(key="data_files").set_value(("sling.csv", FILE, "text/csv"))
    page.text_input(key="data_upload_who").set_value("Sage")
    press(page, "Import")
    next(b for b in page.button if "as a measure of our own" in b.label).click().run()
    assert page.text_input(key="own_label").value == "Slingometer mph"
    page.text_input(key="own_label").set_value("Slingometer")
    press(page, "Save the measure")
    listed = words_of(page.error[-1].value)
    for label in ("Family", "Unit", "Impossible below", "How the test is done", "Your name"):
        assert f"{label}: is not filled in" in listed
    assert not (own_root / "measures.toml").exists()
    for field, text in GIVEN.items():
        widget = page.selectbox if field in CHOSEN else page.text_input
        widget(key=f"own_{field}").set_value(text)
    page.text_input(key="own_who").set_value("Sage")
    press(page, "Save the measure")
    assert not page.error
    assert "Saved: Slingometer" in words_of(page.success[0].value)
    assert (own_root / "measures.toml").read_text() == entry_text(draft_of("Slingometer", GIVEN))
    press(page, "Take the settled files")
    assert not page.error
    stored = ask(own_root, "select value from reading where measure = 'slingometer' order by row_no")
    assert stored == [(41.5,), (43.0,)]


def test_the_desk_names_measures_by_label_and_unit_not_by_key(own_root: Path, open_screen) -> None:
    file = b"Name,Day,Exit speed mph,Throw mph\nArlo Fernmoss,2032-07-01,71.5,62\nArlo Fernmoss,2032-07-08,73,63\n"
    page = open_screen(own_root, "data")
    page.file_uploader(key="data_files").set_value(("both.csv", file, "text/csv"))
    page.text_input(key="data_upload_who").set_value("Sage")
    press(page, "Import")
    (columns,) = [one.value for one in page.table if "Taken as" in one.value.columns]
    taken = dict(zip(columns["Column"], zip(columns["Taken as"], columns["Unit"], strict=True), strict=True))
    assert words_of(taken["Exit speed mph"][0]) == "Exit speed"
    assert words_of(taken["Exit speed mph"][1]) == "mph"
    assert words_of(taken["Day"][0]) == "day"
    assert "_" not in " ".join(columns["Taken as"])
