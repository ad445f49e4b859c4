"""A design with drawn starts in sentences for the command line: what it would tell, and what that rests on."""

from __future__ import annotations

from typing import Final

from latewood.pipeline.catalogue.chances import chance_text, chance_word
from latewood.pipeline.catalogue.model import Measure
from latewood.pipeline.catalogue.units import display_unit, linear
from latewood.pipeline.ingest.logs.start_draws import StartDraw
from latewood.pipeline.ingest.plans.schedules import CampTests, minutes
from latewood.pipeline.ingest.plans.start_design import Designed, share_text
from latewood.pipeline.stats.change.protocol import CAMPS, Seen, give_or_take
from latewood.pipeline.stats.links.staggered_design import ENOUGH

CAUTION: Final = (
    "Who begins later waits; that is no plan to lose weight. Nobody is asked to hold back food, and who needs to eat "
    "more does so at once and is left out (--leave-out). With the consent of athlete and guardian; a doctor or "
    "dietitian can take anybody out at any time."
)


def unit_of(measure: Measure) -> tuple[str, float]:
    """The unit in which an output is printed, and the factor from the measure's own."""
    shown = display_unit(measure.unit, "us")
    return shown, linear(measure.unit, shown)


def design_lines(designed: Designed) -> tuple[str, ...]:
    """Sentences on the power of a design; the first is the verdict."""
    return (_verdict(designed), *_more(designed), _rests_on(designed), *_out(designed), CAUTION)


def draw_lines(draw: StartDraw) -> tuple[str, ...]:
    """Who begins when, and what is to be done with it."""
    text = [
        f"Drawn with seed {draw.seed} and written down; this camp is not drawn again. First plans are to begin:"
    ]
    pairs = draw.start_of()
    for day in sorted({start for _, start in pairs}):
        names = sorted(name for name, start in pairs if start == day)
        text.append(f"{day}: {', '.join(names)} ({len(names)})")
    text.append(
        "Write each plan with that day as its start; `latewood build` then tells what the draw tells."
    )
    return tuple(text)


def _verdict(designed: Designed) -> str:
    result, (unit, factor) = designed.found, unit_of(designed.measure)
    weeks = result.tests[-1] - result.tests[0]
    judged = f"this design is {chance_word(result.power)} to tell"
    link = "the program's own number" if designed.own_link else "the number given"
    return (
        f"With {result.n_athletes} athletes in {len(result.starts)} groups, {weeks:.0f} weeks and {len(result.tests)} "
        f"test days, the chance to tell {result.per_kg * factor:.2f} {unit} per kg ({link}) from zero is "
        f"{chance_text(result.power)}: {judged}."
    )


def _more(designed: Designed) -> tuple[str, ...]:
    result, (unit, factor) = designed.found, unit_of(designed.measure)
    reported = (
        f"The chance that the groups come to weigh clearly different is {chance_text(result.mass_known)}"
    )
    if result.standard_error is None:
        return (
            "On the test days all groups would have been on plan for equally long: nothing can be said at all.",
        )
    if result.width is None:
        text = [f"{reported}; as a rule there would be no interval."]
    else:
        text = [
            f"{reported}; the interval of output per kg would be about {result.width * factor:.2f} {unit} wide."
        ]
    if result.power < ENOUGH and result.needed is not None:
        text.append(f"For a chance of 80 % it would take {result.needed} athletes drawn in this way.")
    elif result.power < ENOUGH:
        text.append("No number of athletes up to 4,000 would bring the chance to 80 %.")
    if designed.others:
        text.append(
            f"With other waits between the starts the chance would be: {share_text(designed.others)}."
        )
    return tuple(text)


def _rests_on(designed: Designed) -> str:
    return (
        f"Taken for granted: a week on plan adds {designed.found.kg_per_week:.2f} kg beside waiting, everybody is "
        f"tested every {designed.ask.every:g} weeks, and tests, practice and mass scatter as in the program so far. "
        "Where a fifth of the tests is missed, 69 of 100 come for a chance of 78 % "
        "(1,200 made-up camps, section 18 of the methods)."
    )


def _out(designed: Designed) -> tuple[str, ...]:
    if not designed.out:
        return ()
    return ("Not in the draw: " + "; ".join(f"{name} ({why})" for name, why in designed.out) + ".",)


def schedule_head(tests: CampTests) -> tuple[str, ...]:
    """What stands above the schedules: the noise of a test day, and how it was worked out."""
    unit, factor = unit_of(tests.measure)
    size = tests.noise.session * factor
    where = f" ({tests.line})" if tests.line else ""
    return (
        f"{tests.measure.label}{where}: two test days of an unchanged athlete differ by a typical error of "
        f"{size:.2g} {unit}. "
        f"Called a clear gain by the end of {tests.now.weeks:.0f} weeks, of 100 athletes who change "
        f"by {size:.2g}, {2 * size:.2g} and {3 * size:.2g} {unit}:",
        f"({CAMPS} made camps of {tests.athletes} athletes, give or take {100 * give_or_take(tests.athletes):.0f} "
        "of 100; noise that goes on from day to day would make it fewer.)",
    )


def schedule_line(one: Seen) -> str:
    """One schedule: what it lets the camp see, what it calls clear by luck, and its cost."""
    pair = ", twice at intake" if one.plan.twice else ""
    shares = ", ".join(f"{100 * share:.0f}" for share in one.found)
    return (
        f"every {one.plan.every:.2g} weeks, {one.plan.trials} trials{pair} ({one.sessions} tests): {shares}; of 100 "
        f"who do not change {100 * one.false:.0f} are called clear; {minutes(one):.0f} minutes an athlete."
    )
