"""One example of each command of the command line, shown below its help."""

from __future__ import annotations

from typing import Final

import typer

EXAMPLES: Final = {
    "init": "latewood init --data camp-data",
    "import": "latewood import roster.csv camps.csv stays.csv test_day_1.csv --by Ira --data camp-data",
    "look": 'latewood look scale.csv gates.csv --answer "Exit speed: unit=mph" --accept --data camp-data',
    "build": "latewood build --fresh --data camp-data",
    "status": "latewood status --data camp-data",
    "held": "latewood held --rule impossible_value --rows --data camp-data",
    "athletes": "latewood athletes Noor --data camp-data",
    "decide": 'latewood decide accept g1a2b3c4 --why "measured again, same value" --by Ira --data camp-data',
    "join": 'latewood join T2 T1 --reason "same athlete, two rosters" --by Ira --data camp-data',
    "decisions": "latewood decisions --limit 20 --data camp-data",
    "withdraw": 'latewood withdraw i1a2b3c4 --why "wrong file" --by Ira --data camp-data',
    "measures": (
        'latewood measures --new "Sled push" --like sprint_10yd --set "protocol=Push 10 yd." --data camp-data'
    ),
    "dictionary": "latewood dictionary",
    "audit": "latewood audit --limit 20 --data camp-data",
    "demo": "latewood demo --data demo",
    "selftest": "latewood selftest",
    "serve": "latewood serve --port 8501 --data camp-data",
    "summary": "latewood summary T1 --form pdf,html --out pages --by Ira --data camp-data",
    "summaries list": "latewood summaries list --state superseded --data camp-data",
    "summaries again": "latewood summaries again --out pages --by Ira --data camp-data",
    "design": "latewood design --camp F --starts 2033-01-10,2033-02-21 --data camp-data",
    "review": "latewood review --camp F --form pdf,csv,xlsx --data camp-data",
    "family": "latewood family --camp F --data camp-data",
    "case": "latewood case T1 --out cases --by Ira --data camp-data",
    "verify": "latewood verify page.pdf --data camp-data",
    "erase": "latewood erase T1 --by Ira --data camp-data",
    "backup": "latewood backup camp-2033.zip --data camp-data",
    "restore": "latewood restore camp-2033.zip --nobody-erased --data elsewhere",
    "check": "latewood check --data camp-data",
    "trials": "latewood trials --out trials --data camp-data",
    "lines": "latewood lines --from trials --out lines.csv --data camp-data",
    "consent list": "latewood consent list --missing --data camp-data",
    "consent give": (
        'latewood consent give T1 --given-by "a parent" --measures exit_speed,sprint_10yd --by Ira --data camp-data'
    ),
    "consent state": (
        'latewood consent state T1 --field school --text "Oak Hollow High" --given-by guardian --until 2033-06-30 '
        "--data camp-data"
    ),
    "consent withdraw": "latewood consent withdraw T1 --by Ira --data camp-data",
}


def add_examples(app: typer.Typer, before: str = "") -> None:
    """Put below the help of every command of an app its example."""
    for command in app.registered_commands:
        name = command.name or getattr(command.callback, "__name__", "")
        example = EXAMPLES.get(f"{before}{name}")
        command.epilog = f"Example: {example}" if example else None
    for group in app.registered_groups:
        if group.typer_instance is not None:
            add_examples(group.typer_instance, f"{before}{group.name} ")
