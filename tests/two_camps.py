"""Two invented camps, an athlete at each and one at both, with weigh-ins, speeds, observations and plans."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

from latewood.pipeline.access import ROLES, Grant, Viewer
from latewood.pipeline.ingest.actions import import_files
from latewood.pipeline.ingest.program import prepare_folder

ROSTER = """athlete_id,name,birth_date,sex,sport,graduation_year,positions,bats,throws
T1,Arlo Fernmoss,2016-03-01,male,baseball,2034,OF,R,R
T2,Bram Siltwood,2015-07-15,male,baseball,2033,C,L,R
T3,Cleo Marshreed,2016-11-30,female,softball,2035,P,S,L
"""
CAMPS = """camp_id,label,starts_on,ends_on,time_zone,place
K,Heath camp,2032-06-01,2032-08-15,America/Chicago,Field 2
L,Fen camp,2032-09-01,2032-10-31,America/Chicago,Field 3
"""
STAYS = """athlete,camp,arrived_on,left_on,planned_until,leave_reason
T1,K,2032-06-01,2032-08-15,2032-08-15,
T2,L,2032-09-01,,2032-10-31,
T3,K,2032-06-01,2032-08-15,2032-08-15,
T3,L,2032-09-01,,2032-10-31,
"""
PLANS = """plan_id,athlete,start_on,start_mass,target_on,target_mass,unit,purpose,made_by,approved_by,reason
P1,T1,2032-06-01,72,2032-08-12,74,kg,strength,Fen,guardian,
P2,T2,2032-09-01,72,2032-10-28,74,kg,strength,Fen,guardian,
"""
VISITS = (
    ("T1", date(2032, 6, 2)),
    ("T2", date(2032, 9, 2)),
    ("T3", date(2032, 6, 2)),
    ("T3", date(2032, 9, 2)),
)


def readings() -> str:
    lines = ["athlete,measured_on,measure,value,unit,trial,state,delivery,bat"]
    for athlete, first in VISITS:
        for week in range(5):
            day = first + timedelta(days=7 * week)
            lines += [
                f"{athlete},{day},exit_speed,{76 + week + 0.2 * n:.1f},mph,{n},,tee,metal" for n in (1, 2, 3)
            ]
            lines.append(f"{athlete},{day},body_mass,{72 + 0.2 * week:.1f},kg,1,fasted,,")
        lines.append(f"{athlete},{first},obs_early_trunk_rotation,marked,rating,1,,,")
    lines += [
        "Nobody Here,2032-06-03,body_mass,73.9,kg,1,fasted,,",
        "Else Where,2032-06-04,body_mass,70.1,kg,1,fasted,,",
    ]
    return "\n".join(lines) + "\n"


def make_two_camps(folder: Path) -> Path:
    """Build the camps under a folder and return their data folder."""
    inbox, root = folder / "inbox", folder / "data"
    inbox.mkdir()
    prepare_folder(root)
    (root / "program.toml").write_text(
        'name = "Heath"\ninvented = true\nclock = "2032-10-20"\n', encoding="utf-8"
    )
    files = {"roster": ROSTER, "camps": CAMPS, "stays": STAYS, "plans": PLANS, "readings": readings()}
    for name, text in files.items():
        (inbox / f"{name}.csv").write_text(text, encoding="utf-8")
    import_files(root, [inbox], "tester")
    return root


def viewer_of(*roles: str, camps: set[str] | None = None) -> Viewer:
    """Somebody signed in with some roles, all bounded to the same camps."""
    bound = None if camps is None else frozenset(camps)
    grants = tuple(Grant(role=ROLES[role], camps=bound) for role in roles)
    return Viewer(name="Sage Fenwick", email="sage@example.org", grants=grants)
