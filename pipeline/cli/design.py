"""The verbs of the command line that design: drawn starts of weight plans, and the test days of a camp."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

import typer

from latewood.pipeline.cli.common import Data, Who, console, user
from latewood.pipeline.cli.design_words import design_lines, draw_lines, schedule_head, schedule_line, unit_of
from latewood.pipeline.ingest.plans.schedules import camp_tests, choices, outlook
from latewood.pipeline.ingest.plans.start_design import Ask, declare, design, parse_days
from latewood.pipeline.ingest.program import data_dir, program_catalogue


def design_(
    camp: Annotated[str, typer.Option(help="The camp whose athletes would be drawn.")],
    starts: Annotated[str, typer.Option(help="Days on which the groups begin, like 2033-01-10,2033-02-21.")],
    measure: Annotated[str, typer.Option(help="The output that is to be told.")] = "exit_speed",
    per_kg: Annotated[
        float | None,
        typer.Option(help="Output per kg to be told, in the unit printed; else the program's own number."),
    ] = None,
    gain: Annotated[
        float | None,
        typer.Option(help="Kg a week on plan beside waiting; else what plans of the program offer."),
    ] = None,
    every: Annotated[float, typer.Option(help="Weeks between test days.")] = 2.0,
    leave_out: Annotated[
        list[str] | None, typer.Option(help="An athlete who is not to wait; may be given again.")
    ] = None,
    draw: Annotated[
        bool, typer.Option("--draw", help="Draw the groups now and write the draw down.")
    ] = False,
    by: Who = "",
    data: Data = None,
) -> None:
    """Say what weight plans that begin on drawn days could tell of mass apart from time; --draw draws them."""
    root = data_dir(data)
    known = program_catalogue(root).measures.get(measure)
    factor = unit_of(known)[1] if known else 1.0
    ask = Ask(
        camp_id=camp, measure=measure, starts=parse_days(starts), every=every, kg_per_week=gain,
        per_kg=None if per_kg is None else per_kg / factor, leave_out=tuple(leave_out or ()),
    )  # fmt: skip
    designed = design(root, ask)
    lines = design_lines(designed)
    if draw:
        lines += draw_lines(declare(root, designed, by or user()))
    else:
        lines += (
            "Nothing was drawn; the same command with --draw draws the groups and writes the draw down.",
        )
    for line in lines:
        console.print(line)


def protocol(
    camp: Annotated[str, typer.Option(help="The camp whose test days are planned.")],
    measure: Annotated[str, typer.Option(help="The measure that is tested.")] = "exit_speed",
    every: Annotated[
        float | None, typer.Option(min=0.5, help="Weeks between test days; else as now.")
    ] = None,
    trials: Annotated[int | None, typer.Option(min=1, help="Trials a test day; else as now.")] = None,
    twice: Annotated[
        bool, typer.Option("--twice", help="Everybody tested twice within three days of arriving.")
    ] = False,
    data: Data = None,
) -> None:
    """Say how large a change the test days of a camp let you see in how many athletes, and at what cost."""
    tests = camp_tests(data_dir(data), camp, measure)
    asked = replace(tests.now, every=every or tests.now.every, trials=trials or tests.now.trials, twice=twice)
    for line in schedule_head(tests):
        console.print(line)
    for one in outlook(tests, choices(tests) if asked == tests.now else (tests.now, asked)):
        console.print(schedule_line(one))
