"""Keeps a data folder of this version for the versions to come: `python -m tests.reliability.keep NAME`.

Writes kept/NAME.zip (a backup in which everything there is has happened once) and kept/NAME.json (what a build of it
must find). Kept ones are never written anew: what an older version left behind has to be read as it is.
"""

from __future__ import annotations

import json
import sys
import tempfile
from contextlib import closing
from pathlib import Path
from typing import Any

from latewood.pipeline.care.backup import back_up
from latewood.pipeline.ingest.logs import entered, focus, planlog
from latewood.pipeline.warehouse.connection import open_published
from tests.reliability.conftest import lived_in
from tests.reliability.kill import FIRST

KEPT = Path(__file__).parent / "kept"
FACTS = {
    "values": "select athlete_id, measure, held_on, own_line, value, n_trials from session_value order by all",
    "stays": "select athlete_id, camp_id, arrived_on, left_on from stay order by all",
    "held": "select import_id, row_no, field, rule, state from held_row order by all",
    "imports": "select import_id, file_name, kind, rows_in, rows_taken, rows_held from import order by all",
    "plans": "select plan_id, athlete_id, start_on, start_kg, target_on, target_kg from plan order by all",
}


def facts(root: Path) -> dict[str, Any]:
    """What was measured and told, as the published build and the logs of a folder hold it."""
    with closing(open_published(root)) as connection:
        result: dict[str, Any] = {
            name: [[str(v) if not isinstance(v, int | float) else v for v in row] for row in rows]
            for name, rows in ((name, connection.execute(sql).fetchall()) for name, sql in FACTS.items())
        }
    result["focus"] = [[one.athlete_id, one.text, one.by] for one in focus.read_log(root)]
    result["plan log"] = [[one.plan_id, one.decision, one.by] for one in planlog.read_log(root)]
    result["typed"] = [
        [one.athlete_id, one.value, one.unit, one.by] for one in entered.current_entries(root, FIRST)
    ]
    return result


def main() -> None:
    """Keep the folder of this version; refuses to write over one that is kept."""
    name = sys.argv[1]
    archive, words = KEPT / f"{name}.zip", KEPT / f"{name}.json"
    with tempfile.TemporaryDirectory(prefix="latewood-kept-") as scratch:
        root = lived_in(Path(scratch))
        back_up(root, archive, "Ira", with_key=False)
        with words.open("x", encoding="utf-8") as stream:
            stream.write(json.dumps(facts(root)) + "\n")


if __name__ == "__main__":
    main()
