"""A camp in whose files every text field is written to be drawn: links, pictures, HTML, formulas, icons, colours."""

from __future__ import annotations

import csv
import io
from datetime import date, timedelta
from pathlib import Path

from latewood.pipeline.errors import LatewoodError
from latewood.pipeline.ingest.actions import import_files, land_files, withdraw
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.logs import build_notes, focus, planlog
from latewood.pipeline.ingest.program import prepare_folder
from tests.typed import type_in

HOST = "evil.example"
SIGNS = (
    f"![p](http://{HOST}/a.png) [l](https://{HOST}/) <img src='http://{HOST}/b.png'> www.{HOST} x@{HOST} "
    "$x^2$ :smile: :red[r] :material/home: **b**"
)
ATHLETE = f"[T1](http://{HOST}/id)"
CAMP = f"<a href='http://{HOST}'>K</a>"
PLAN = f"![P1](http://{HOST}/p.png)"
FIRST = date(2032, 6, 1)


def said(what: str) -> str:
    """Hostile text that says where it came from."""
    return f"{what} {SIGNS}"


def table(head: str, *rows: tuple[object, ...]) -> str:
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(head.split(","))
    writer.writerows(rows)
    return out.getvalue()


def readings() -> str:
    rows: list[tuple[object, ...]] = [
        (
            ATHLETE,
            FIRST + timedelta(days=d),
            "body_mass",
            f"{72 + 0.028 * d:.1f}",
            "kg",
            1,
            "fasted",
            "",
            "",
            "",
            "",
        )
        for d in range(70)
    ]
    for week in range(6):
        day = FIRST + timedelta(days=1 + 13 * week)
        rows += [
            (
                ATHLETE,
                day,
                "exit_speed",
                f"{76 + 2.4 * week + 0.2 * n:.1f}",
                "mph",
                n,
                "",
                "tee",
                "metal",
                "baseball",
                "radar",
            )
            for n in range(1, 6)
        ]
        rows.append((ATHLETE, day, "obs_early_trunk_rotation", "marked", "rating", 1, "", "", "", "", ""))
    rows += [
        (said("Nobody"), FIRST, "body_mass", "73", "kg", 1, "fasted", "", "", "", ""),
        (ATHLETE, FIRST, said("measure"), "73", "kg", 1, "", "", "", "", ""),
        (ATHLETE, FIRST, "body_mass", said("value"), "kg", 2, "", "", "", "", ""),
        (ATHLETE, FIRST, "body_mass", "73", said("unit"), 3, "", "", "", "", ""),
        (ATHLETE, said("date"), "body_mass", "73", "kg", 4, "", "", "", "", ""),
        (ATHLETE, FIRST, "body_mass", "73", "kg", said("trial"), "", "", "", "", ""),
        (ATHLETE, FIRST, "exit_speed", "77", "mph", 9, "", said("delivery"), said("bat"), "", said("device")),
    ]  # fmt: skip
    return table("athlete,measured_on,measure,value,unit,trial,state,delivery,bat,ball,device", *rows)


def files() -> dict[str, str]:
    until = FIRST + timedelta(days=75)
    return {
        "roster.csv": table(
            "athlete_id,name,birth_date,sex,sport,graduation_year,positions,bats,throws,aliases",
            (ATHLETE, said("Arlo"), "2016-03-01", "male", "baseball", 2034, said("OF"), "R", "R", said("alias")),
        ),
        "camps.csv": table(
            "camp_id,label,starts_on,ends_on,time_zone,place",
            (CAMP, said("Heath"), FIRST, until, "America/Chicago", said("place")),
        ),
        "stays.csv": table(
            "athlete,camp,arrived_on,left_on,planned_until,leave_reason",
            (ATHLETE, CAMP, FIRST, "", until, said("reason")),
        ),
        "plans.csv": table(
            "plan_id,athlete,start_on,start_mass,target_on,target_mass,unit,purpose,made_by,approved_by,reason",
            (PLAN, ATHLETE, FIRST, 72, FIRST + timedelta(days=72), 74, "kg", said("purpose"), said("maker"),
             said("guardian"), said("plan reason")),
        ),
        f"{said('file').replace('/', '')}.csv": readings(),
    }  # fmt: skip


def make_hostile(folder: Path) -> Path:
    """Build the camp under a folder and return its data folder."""
    inbox, root = folder / "inbox", folder / "data"
    inbox.mkdir()
    prepare_folder(root)
    name = said("program").replace('"', "")
    (root / "program.toml").write_text(
        f'name = "{name}"\ninvented = true\nclock = "2032-08-10"\n', encoding="utf-8"
    )
    for file, text in files().items():
        (inbox / file).write_text(text, encoding="utf-8")
    import_files(root, [inbox], said("importer"))
    act(root)
    return root


def act(root: Path) -> None:
    """What people write on screens: a focus, a plan decision, a typed value, a withdrawal; and a failed build."""
    who = said("Fen")
    focus.write(
        root,
        focus.NewFocus(
            athlete_id=ATHLETE, text=said("focus")[:200], measure="exit_speed", review_on=date(2032, 9, 1)
        ),
        who,
    )
    planlog.record_decision(
        root,
        planlog.NewPlanDecision(
            plan_id=PLAN,
            athlete_id=ATHLETE,
            decision=planlog.KEEP,
            review_on=date(2032, 8, 25),
            note=said("note"),
            seen={},
        ),
        who,
    )
    type_in(
        root,
        by=who,
        athlete_id=ATHLETE,
        measure="body_mass",
        measured_on=date(2032, 8, 10),
        value="74.0",
        unit="kg",
    )
    extra = root.parent / "inbox" / f"{said('gone').replace('/', '')}.csv"
    extra.write_text(
        "athlete,measured_on,measure,value,unit\nX,2032-06-01,body_mass,70,kg\n", encoding="utf-8"
    )
    (taken,) = land_files(root, [extra], who)
    withdraw(root, taken.import_id, who, said("why"), build_after=False)
    build(root)
    try:
        with build_notes.noted(root):
            raise LatewoodError(said("failed"))
    except LatewoodError:
        pass
