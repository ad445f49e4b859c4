"""In a real browser: the film of a trial plays from its mark beside the trace, where the file lies on this machine."""

from __future__ import annotations

import base64
import shutil
from datetime import date, timedelta
from pathlib import Path

from playwright.sync_api import Page

from latewood.pipeline.ingest.consent import consent_book
from latewood.pipeline.ingest.consent.agreed import FIELDS, Consent
from latewood.pipeline.ingest.logs import videos
from latewood.pipeline.ingest.program import load_program
from tests.browser.test_movement import traced_root
from tests.movement_folder import MARLWICK
from tests.tools.shots import serving

__all__ = ["traced_root"]
# Two and a half seconds of a square that grows, drawn and recorded by the browser itself: nobody is in it.
SQUARE = """async () => {
  const canvas = Object.assign(document.createElement('canvas'), {width: 64, height: 48});
  const pen = canvas.getContext('2d');
  const recorder = new MediaRecorder(canvas.captureStream(20), {mimeType: 'video/webm'}), parts = [];
  recorder.ondataavailable = event => parts.push(event.data);
  recorder.start();
  for (let k = 0; k < 50; k++) { pen.fillRect(0, 0, 2 * k, k); await new Promise(done => setTimeout(done, 50)); }
  await new Promise(done => { recorder.onstop = done; recorder.stop(); });
  const bytes = new Uint8Array(await new Blob(parts).arrayBuffer());
  return btoa(String.fromCharCode(...bytes));
}"""


def test_a_film_plays_from_its_mark_and_only_its_name_is_kept(
    tab: Page, traced_root: Path, tmp_path: Path
) -> None:
    root = Path(shutil.copytree(traced_root, tmp_path / "data"))
    today = load_program(root).today()
    given = Consent(
        athlete_id=MARLWICK, given_by="guardian", given_on=today, expires_on=today + timedelta(days=90), fields=FIELDS,
        measures=("all",), projection=False, photo=True, reference="binder",
    )  # fmt: skip
    consent_book.record(root, given, "Dana")
    tab.goto("about:blank")
    (root / videos.FOLDER).mkdir()
    (root / videos.FOLDER / "square.webm").write_bytes(base64.b64decode(tab.evaluate(SQUARE)))
    with serving(root) as address:
        tab.goto(f"{address}/athlete?athlete={MARLWICK}&section=movement")
        tab.get_by_text("Draw it", exact=True).click()
        tab.get_by_text("Name the film of this trial").click()
        tab.get_by_label("File name or address; empty takes it back").fill("square.webm")
        tab.get_by_label("Seconds into the film").fill("1.2")
        tab.get_by_label("Your name").last.fill("Odalys Fen")
        tab.get_by_role("button", name="Note it").click()
        film = tab.locator("video")
        film.wait_for(timeout=30_000)
        tab.wait_for_function("document.querySelector('video').readyState >= 1", timeout=30_000)
        tab.wait_for_function("document.querySelector('video').currentTime >= 1", timeout=30_000)
        assert film.evaluate("e => e.error") is None
        assert tab.get_by_text("Film: square.webm, from 1.2 s").count() == 1
    (note,) = videos.read_log(root)
    assert (note.text, note.seconds, note.day) == ("square.webm", 1.2, date(2033, 7, 25))
    assert [p.name for p in root.rglob("*.webm")] == ["square.webm"]  # where it lay, and nowhere else
