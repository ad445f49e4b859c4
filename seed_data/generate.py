"""Write the invented academy's files and their answer key: python seed_data/generate.py [--out DIR]."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
if str(HERE) not in sys.path:
    sys.path.insert(0, str(HERE))

from saltmarsh.academy import SEED  # noqa: E402
from saltmarsh.answer_key import answer_key  # noqa: E402
from saltmarsh.errors_double import plant_doubles  # noqa: E402
from saltmarsh.errors_row import plant_rows, plant_whole_files  # noqa: E402
from saltmarsh.errors_value import plant_brackwater, plant_values  # noqa: E402
from saltmarsh.files_angles import angle_sheet, second_sheet  # noqa: E402
from saltmarsh.files_body import body_sheets  # noqa: E402
from saltmarsh.files_consent import consent_sheet, family_consent_sheet  # noqa: E402
from saltmarsh.files_movement import movement_sheets  # noqa: E402
from saltmarsh.files_people import people_sheets  # noqa: E402
from saltmarsh.files_scale import scale_sheets  # noqa: E402
from saltmarsh.files_skill import skill_sheets  # noqa: E402
from saltmarsh.files_traces import trace_files  # noqa: E402
from saltmarsh.people import build_people  # noqa: E402
from saltmarsh.planter import Planter  # noqa: E402
from saltmarsh.process import build_course  # noqa: E402
from saltmarsh.sessions import Academy  # noqa: E402
from saltmarsh.sheets import Sheet  # noqa: E402


def build_academy() -> Academy:
    """The people and their true courses; every part has its own stream of random numbers."""
    people = build_people(np.random.default_rng([SEED, 1]))
    courses = {
        p.athlete_id: build_course(
            p, np.random.default_rng([SEED, 2, i]), np.random.default_rng([SEED, 10, i])
        )
        for i, p in enumerate(people)
    }
    return Academy(people=people, courses=courses, rng=np.random.default_rng([SEED, 3]))


def build_sheets(academy: Academy) -> list[Sheet]:
    """All files before any error is planted, each family from its own stream of random numbers."""
    sheets = []
    for number, part in enumerate((people_sheets, scale_sheets, skill_sheets, body_sheets, movement_sheets)):
        academy.rng = np.random.default_rng([SEED, 4, number])
        sheets += part(academy)
    return sheets


def plant_errors(academy: Academy, sheets: list[Sheet]) -> Planter:
    """Every planted error, written into the sheets and down for the key; a file sent again is added."""
    planter = Planter(sheets=sheets, people=academy.people, rng=np.random.default_rng([SEED, 5]))
    plant_rows(planter)
    plant_values(planter)
    plant_brackwater(planter)
    plant_doubles(planter)
    plant_whole_files(planter)
    return planter


def write_all(out: Path) -> None:
    """Write files/ and answer_key.json under `out`."""
    academy = build_academy()
    planter = plant_errors(academy, build_sheets(academy))
    traces = trace_files(planter)
    (observed,) = planter.named("observations_F.csv")
    more = (angle_sheet(academy), second_sheet(academy, observed))
    folder = out / "files"
    folder.mkdir(parents=True, exist_ok=True)
    for sheet in (*planter.sheets, consent_sheet(academy), family_consent_sheet(academy), *more, *traces):
        (folder / sheet.name).write_bytes(sheet.content())
    (out / "answer_key.json").write_text(answer_key(academy, planter), encoding="utf-8")


def main() -> None:
    """Read the arguments and write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, default=HERE, help="folder to write into (default: this one)")
    write_all(parser.parse_args().out)


if __name__ == "__main__":
    main()
