"""Every command: the function in this folder that runs it, and an example, which stands below its help."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Verb:
    """One command: its function as `module.function`. What its help says is the function's docstring."""

    at: str
    example: str


@dataclass(frozen=True, slots=True)
class Verbs:
    """Commands below one word: their app as `module.app`, and an example of each."""

    at: str
    help: str
    examples: Mapping[str, str]


COMMANDS: Final[Mapping[str, Verb | Verbs]] = {
    "init": Verb("folder.init", "latewood init --data camp-data"),
    "import": Verb(
        "building.import_",
        "latewood import roster.csv camps.csv stays.csv test_day_1.csv --by Ira --data camp-data",
    ),
    "build": Verb("building.build_", "latewood build --fresh --data camp-data"),
    "status": Verb("reading.status", "latewood status --data camp-data"),
    "held": Verb("reading.held", "latewood held --rule impossible_value --rows --data camp-data"),
    "athletes": Verb("reading.athletes", "latewood athletes Noor --data camp-data"),
    "decide": Verb(
        "building.decide",
        'latewood decide accept g1a2b3c4 --why "measured again, same value" --by Ira --data camp-data',
    ),
    "withdraw": Verb(
        "building.withdraw", 'latewood withdraw i1a2b3c4 --why "wrong file" --by Ira --data camp-data'
    ),
    "measures": Verb(
        "reading.measures",
        'latewood measures --new "Sled push" --like sprint_10yd --set "protocol=Push 10 yd." --data camp-data',
    ),
    "dictionary": Verb("reading.dictionary", "latewood dictionary"),
    "audit": Verb("auditing.audit_", "latewood audit --receipt receipt-2033-08-01.json --data camp-data"),
    "demo": Verb("building.demo_", "latewood demo --data demo"),
    "selftest": Verb("building.selftest", "latewood selftest"),
    "serve": Verb("folder.serve", "latewood serve --port 8501 --data camp-data"),
    "summary": Verb(
        "summaries.summary", "latewood summary T1 --form pdf,html --out pages --by Ira --data camp-data"
    ),
    "join": Verb(
        "joins.join", 'latewood join T2 T1 --reason "same athlete, two rosters" --by Ira --data camp-data'
    ),
    "decisions": Verb("joins.decisions", "latewood decisions --limit 20 --data camp-data"),
    "look": Verb(
        "look.look",
        'latewood look scale.csv gates.csv --answer "Exit speed: unit=mph" --accept --data camp-data',
    ),
    "design": Verb(
        "design.design_", "latewood design --camp F --starts 2033-01-10,2033-02-21 --data camp-data"
    ),
    "protocol": Verb("design.protocol", "latewood protocol --camp F --measure exit_speed --data camp-data"),
    "review": Verb("reviews.review", "latewood review --camp F --form pdf,csv,xlsx --data camp-data"),
    "roster": Verb(
        "reviews.roster_", "latewood roster --camp F --form pdf,xlsx --out rosters --data camp-data"
    ),
    "years": Verb("reviews.years_", "latewood years --form pdf,xlsx --out years --data camp-data"),
    "family": Verb("reviews.family", "latewood family --camp F --data camp-data"),
    "case": Verb("reviews.case", "latewood case T1 --out cases --by Ira --data camp-data"),
    "verify": Verb("summaries.verify_", "latewood verify page.pdf --data camp-data"),
    "erase": Verb("summaries.erase_", "latewood erase T1 --by Ira --data camp-data"),
    "backup": Verb("care.backup_", "latewood backup camp-2033.zip --data camp-data"),
    "restore": Verb("care.restore_", "latewood restore camp-2033.zip --nobody-erased --data elsewhere"),
    "check": Verb("care.check_", "latewood check --data camp-data"),
    "trials": Verb("scale.trials", "latewood trials --out trials --data camp-data"),
    "lines": Verb("scale.lines", "latewood lines --from trials --out lines.csv --data camp-data"),
    "consent": Verbs(
        "summaries.consent_app",
        "Consent to summaries: list, give, state, withdraw.",
        {
            "list": "latewood consent list --missing --data camp-data",
            "give": (
                'latewood consent give T1 --given-by "a parent" --measures exit_speed,sprint_10yd --by Ira '
                "--data camp-data"
            ),
            "state": (
                'latewood consent state T1 --field school --text "Oak Hollow High" --given-by guardian '
                "--until 2033-06-30 --data camp-data"
            ),
            "withdraw": "latewood consent withdraw T1 --by Ira --data camp-data",
        },
    ),
    "summaries": Verbs(
        "sheets.sheets_app",
        "Sheets that are out: list them, issue superseded ones again.",
        {
            "list": "latewood summaries list --state superseded --data camp-data",
            "again": "latewood summaries again --out pages --by Ira --data camp-data",
        },
    ),
}
