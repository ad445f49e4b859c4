"""Every term of the field that a screen uses, in one sentence, and the places of the screens where it stands.

A term is declared once. `PLACES` says which terms a heading explains when the pointer rests on its mark or a finger
taps it; a test reads every screen and finds the sentence of each term that stands on it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from latewood.pipeline.catalogue.chances import scale_text


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """One term: its name, how it is recognised in a text (a regular expression, case ignored), and what it means."""

    name: str
    pattern: str
    sentence: str
    exact: bool = False  # of the exact statements only: the glossary lists it after all plain ones


TERMS: tuple[Term, ...] = (
    Term(
        name="Session", pattern=r"\bsessions?\b",
        sentence="One athlete on one day, its trials taken together by the measure's own rule.",
    ),
    Term(
        name="Trial", pattern=r"\btrials?\b",
        sentence="One swing, throw, run or lift of a session.",
    ),
    Term(
        name="n", exact=True, pattern=r"\bn\b",
        sentence="How many athletes, sessions or weigh-ins a number rests on; the word beside it says which.",
    ),
    Term(
        name="Line", pattern=r"\bin one line\b|\bline broken\b|\bin these lines\b",
        sentence="Readings under the same conditions, which may be compared; other conditions make another line.",
    ),
    Term(
        name="Typical error", pattern=r"\btypical errors?\b|\btest's own error\b|\bmeasurement error\b",
        sentence="How far one test usually lies from the athlete's true level when nothing has changed.",
    ),
    Term(
        name="Smallest worthwhile change", pattern=r"\bsmallest worthwhile\b|\bsmallest relevant\b",
        sentence="The smallest change that would matter to the athlete's game; a change can be real and still smaller.",
    ),
    Term(
        name="Minimal detectable change", exact=True, pattern=r"\bminimal detectable\b|\bgrey tape\b",
        sentence="The smallest change that luck alone is unlikely to make; on a rail the edge of the grey tape.",
    ),
    Term(
        name="Interval", pattern=r"\bintervals?\b|% ranges?\b",
        sentence="The range (a 95 % range) that holds the true value in 95 of 100 such cases.",
    ),
    Term(
        name="Clear gain, clear loss", pattern=r"\bclear (gain|loss|rise|fall|verdict)|\bnot clear\b|\bbecame clear\b",
        sentence="A change too large to be luck, judged so strictly that looking after every test day is allowed for.",
    ),
    Term(
        name="By luck alone", pattern=r"\bby luck alone\b",
        sentence="How many verdicts would read clear if no athlete had changed: expect that many false ones.",
    ),
    Term(
        name="Taken together", pattern=r"\btaken together\b|\blooked at together\b|\bamong all\b",
        sentence="Which clear verdicts stand when the whole list is judged at once, one false in ten at most.",
    ),
    Term(
        name="Smoothed mass", pattern=r"\bsmoothed mass\b|\btrend of weigh-ins\b",
        sentence="Body mass with the ups and downs of water and of the scale taken out, from all mornings together.",
    ),
    Term(
        name="Band", pattern=r"\bband\b|\bcorridor\b",
        sentence="The stretch around a line that holds the true course in 95 of 100 such cases.",
    ),
    Term(
        name="Weigh-in", pattern=r"\bweigh-ins?\b",
        sentence="Body mass on one morning, best before breakfast, after the toilet and before training.",
    ),
    Term(
        name="Rate", pattern=r"\brates?\b",
        sentence="How much mass changes in a week, of a plan over its last three weeks; also as a share of body mass.",
    ),
    Term(
        name="Ceiling", pattern=r"\bceiling\b",
        sentence="The fastest gain the program allows in a week; above it most of what is added does not help.",
    ),
    Term(
        name="Chance to reach the target", pattern=r"\bchance to\b|% chance\b",
        sentence="How likely the target is by its date if the rate stays as it is now. " + scale_text(),
    ),
    Term(
        name="False alarm", pattern=r"\braised by mistake\b|\braise an alarm\b|\bfalse alarms?\b",
        sentence="A status that asks for a decision although the athlete is exactly on their plan.",
    ),
    Term(
        name="Status of a plan", pattern=r"\bbehind the plan\b|\btoo fast\b|\bstalled\b|\bon plan\b|\bby its date\b",
        sentence="What the weigh-ins so far say of a plan, by a rule whose false alarms are known.",
    ),
    Term(
        name="Decision table", pattern=r"\bdecision table\b|\bplans? to decide\b",
        sentence="Rows a plan is held against in order, medical referral first; the first that fits is offered.",
    ),
    Term(
        name="Test day", pattern=r"\btest days?\b",
        sentence="A day on which the camp tests, as its camps file states or as seen from who was tested.",
    ),
    Term(
        name="Energy", pattern=r"\bkcal\b|\benergy\b",
        sentence="Food that would fit the missing rate, as a range for a dietitian and no instruction.",
    ),
    Term(
        name="Adjusted gain", pattern=r"\bgain since intake\b|\badjusted\b",
        sentence="What a camp gained with the luck of the first day taken out and those who left early counted.",
    ),
    Term(
        name="Plain difference", pattern=r"\bplain difference\b",
        sentence="Last test less first test of those who have both; it carries the luck of the first day.",
    ),
    Term(
        name="Shrunk estimate", exact=True, pattern=r"\bshrunk\b|\bpulled together\b",
        sentence="An estimate moved towards that of the others, the more so the less of its own data it has.",
    ),
    Term(
        name="Random slope", exact=True, pattern=r"\brandom slopes?\b|\bspread of true gains\b",
        sentence="A rate of change of its own for each athlete, scattered around that of the camp.",
    ),
    Term(
        name="At equal time in the program", pattern=r"\bat equal time\b",
        sentence="Compared after the same weeks, so that what time brings is not counted as mass or strength.",
    ),
    Term(
        name="Goes with", pattern=r"\bgoes with\b|\bwent with\b",
        sentence="Rises and falls together with; it says nothing about what causes what.",
    ),
    Term(
        name="Peers", pattern=r"\bpeers?\b|\bsimilar build\b",
        sentence="Athletes of the same sport and sex, measured here alike, of similar age, height and body mass.",
    ),
    Term(
        name="Effective n", pattern=r"\bcounts as \d+ peers\b|\beffective\b", exact=True,
        sentence="How many equally near peers the weighted ones are worth; near ones count more than far ones.",
    ),
    Term(
        name="Percentile", pattern=r"\bpercentile\b|\bthan \d+ of 100\b",
        sentence="How many of a hundred peers the athlete does better than.",
    ),
    Term(
        name="Projection", pattern=r"\bprojections?\b|\bprojected\b",
        sentence="The range in which one more test at a date or a body mass is expected.",
    ),
    Term(
        name="CRPS", pattern=r"\bCRPS\b", exact=True,
        sentence="The usual distance between what was projected and what came, unsureness counted; small is good.",
    ),
    Term(
        name="Peak rotational speed", pattern=r"\brotational speeds?\b|\bpeak speeds?\b",
        sentence="The fastest turning of a body segment in a swing or throw, in degrees a second.",
    ),
    Term(
        name="Sequence", pattern=r"\border is kept\b|\border and timing\b|\bsequence\b|\bout of order\b",
        sentence="The order in which the segments reach their peaks; from the ground up is the usual good one.",
    ),
    Term(
        name="Hip-shoulder separation", pattern=r"\bhip-shoulder separation\b",
        sentence="The angle between pelvis and chest at front-foot contact.",
    ),
    Term(
        name="Agreement of raters", pattern=r"\bkappa\b", exact=True,
        sentence="How much more often two people choose the same word than by chance: 1 is always, 0 is as by chance.",
    ),
    Term(
        name="Exit speed", pattern=r"\bexit speed\b",
        sentence="How fast the ball leaves the bat; tee, toss, machine and live pitching are different lines.",
    ),
    Term(
        name="Pop time", pattern=r"\bpop time\b",
        sentence="From the pitch in the catcher's glove to the throw in the glove at the base; less is better.",
    ),
    Term(
        name="1RM", pattern=r"\b1RM\b",
        sentence="The load an athlete could lift once, tested or worked out from a few repetitions.",
    ),
    Term(
        name="Held row", pattern=r"\bheld rows?\b|\brows waiting\b",
        sentence="A row of a file that was not taken as it stands; it counts in no result until a person answers.",
    ),
    Term(
        name="Build", pattern=r"\bbuilds?\b|\brebuild\b",
        sentence="One run that checks all files and works out every result anew; the screens show the last good one.",
    ),
    Term(
        name="Withdraw", pattern=r"\bwithdr[ae]wn?\b",
        sentence="To take a file's rows out of every result; the file and the decision stay on record.",
    ),
    Term(
        name="Consent", pattern=r"\bconsents?\b",
        sentence="What an athlete, and for a minor the guardian, agreed may leave the program, to when.",
    ),
)  # fmt: skip
BY_NAME: Mapping[str, Term] = {term.name: term for term in TERMS}

_LOOKS = ("Interval", "Clear gain, clear loss", "By luck alone", "Taken together")
_PLAN = ("Weigh-in", "Smoothed mass", "Rate", "Ceiling", "Chance to reach the target", "Status of a plan")
# Heading, as it stands on its screen (or the screen's own title), and the terms it explains.
PLACES: Mapping[str, tuple[str, ...]] = {
    "Monday": ("Build",),
    "To settle": ("Decision table", "Status of a plan", "Ceiling", "False alarm", "Weigh-in", "Test day", "Held row"),
    "Your athletes now": ("Clear gain, clear loss", "Test day", "Taken together"),
    "New": ("Session", "Trial", "Typical error", *_LOOKS, "Exit speed", "Pop time", "1RM"),
    "Cohorts: what a camp gained": (
        "Adjusted gain", "Interval", "Plain difference", "Shrunk estimate", "Typical error", "By luck alone", "n",
    ),
    "What goes with added mass and added strength": ("Goes with", "At equal time in the program", "1RM", "Session"),
    "Athlete": ("Weigh-in", "Smoothed mass", "Session"),
    "What changed": ("Typical error", "Minimal detectable change", *_LOOKS, "Session"),
    "On one time axis": ("Smoothed mass", "Interval", "Line", "Test day"),
    "The account of a change": ("Goes with", "Interval", "Session", "1RM"),
    "Among athletes of similar build": ("Peers", "Percentile", "Effective n"),
    "Where this may go": ("Projection", "Interval", "CRPS", "Test day"),
    "Order and timing of movement": ("Peak rotational speed", "Sequence", "Trial", "Hip-shoulder separation"),
    "What coaches saw": ("Agreement of raters", "Interval"),
    "Angles at events": ("Trial", "Typical error", "Hip-shoulder separation"),
    "Weight plans": (*_PLAN, "Band", "False alarm", "Decision table"),
    "Weight plan": (*_PLAN, "Interval"),
    "Why this status": ("Decision table", "False alarm"),
    "Does it pay": ("Interval", "Exit speed", "1RM", "Smallest worthwhile change"),
    "Energy": ("Energy",),
    "New weight plan": (*_PLAN,),
    "Weigh-in and tests": ("Weigh-in", "Trial", "Build"),
    "Athletes behind the number": ("Adjusted gain", "Shrunk estimate", "Plain difference", "Typical error", "n"),
    "Each athlete": ("Minimal detectable change", *_LOOKS, "Session"),
    "How past projections of this measure did": ("Projection", "CRPS"),
    "Data": ("Build",),
    "Held rows": ("Held row",),
    "Imported files": ("Withdraw",),
    "Summaries": ("Consent",),
    "What a fair comparison allows us to say": ("Adjusted gain", "Interval"),
    "Gains": ("Adjusted gain", "Interval", "Plain difference", "Shrunk estimate", "Clear gain, clear loss", "n"),
    "Parts of the camp": ("Interval", "n"),
    "Do the camps differ?": ("Adjusted gain", "Interval", "At equal time in the program"),
    "How soon a stall would show": ("False alarm", "Status of a plan", "Weigh-in"),
    "Since intake, since the last review, and next": ("Test day", "Clear gain, clear loss"),
    "One trial as recorded": ("Trial", "Peak rotational speed"),
    "Page for athlete and family": ("Consent",),
}  # fmt: skip


def help_of(place: str) -> str | None:
    """What a heading explains, as Markdown; None where it explains nothing."""
    terms = PLACES.get(place, ())
    return "\n\n".join(f"**{name}**: {BY_NAME[name].sentence}" for name in terms) or None
