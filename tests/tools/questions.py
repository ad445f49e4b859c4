"""What a coach asks in the hallway and what scenarios ask: where to look, and the answer, from the warehouse alone.

The numbers of an answer are worked out here from the tables of the build, in units and rounding of this module's own;
nothing of the dashboard is asked. Only the plain words around them are the screens'.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from scipy.stats import norm
from statsmodels.stats.multitest import multipletests

from latewood.pipeline.warehouse.connection import open_published

POUND = 0.45359237  # kg, exactly: NIST Special Publication 811, appendix B.8
MPH = 0.44704  # m/s, exactly: the same
METAL = "delivery=tee; bat=metal; ball=baseball; device=optical"
DEMO, CAMP, FAMILY = "demo", "written camp", "family page"
FAMILY_OF = "Jasper Harrowholt"
Way = tuple[tuple[str, str], ...]
Pieces = tuple[str | frozenset[str], ...]  # in this order; a set in any order


@dataclass(frozen=True)
class Book:
    """The published build of a folder, asked by the day the program takes for today."""

    root: Path
    today: date

    def rows(self, query: str, **given: Any) -> list[dict[str, Any]]:
        """Every row of a query."""
        with closing(open_published(self.root)) as connection:
            return list(connection.execute(query, given).df().to_dict("records"))

    def one(self, query: str, **given: Any) -> Any:
        """The one row of a query, or its one value."""
        rows = self.rows(query, **given)
        assert len(rows) == 1, f"{len(rows)} rows for: {query}"
        return next(iter(rows[0].values())) if len(rows[0]) == 1 else rows[0]

    def who(self, name: str) -> str:
        """The id of the one athlete of this name."""
        return str(self.one("select athlete_id from athlete where display_name like $name", name=f"%{name}"))

    def trend(self, name: str, measure: str, line: str = "%") -> dict[str, Any]:
        """The change of an athlete in a measure over the latest stay."""
        return self.rows(
            "select * from trend where athlete_id = $who and measure = $measure and line like $line "
            "order by last_on desc, n_sessions desc limit 1",
            who=self.who(name), measure=measure, line=line,
        )[0]  # fmt: skip

    def plan(self, name: str) -> dict[str, Any]:
        """The review of an athlete's plan."""
        result = self.one("select * from plan_review where athlete_id = $who", who=self.who(name))
        assert isinstance(result, dict)
        return result


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question: its scenario ('' for a coach's own), whose, what it asks, the way from Monday, and the answer.

    `answer` gives the words that have to follow each other on the screen, in US units.
    """

    number: str = ""
    role: str
    asks: str
    way: Way
    answer: Callable[[Book], Pieces]
    place: str = DEMO


def pattern(pieces: Pieces) -> str:
    """The words as a regular expression of the browser: in this order and not far from each other."""
    return ".{0,400}?".join(
        re.escape(one)
        if isinstance(one, str)
        else f"(?:(?:{'|'.join(map(re.escape, sorted(one)))}).{{0,60}}?){{{len(one)}}}"
        for one in pieces
    )


def in_words(pieces: Pieces) -> str:
    """The same for a reader."""
    return " … ".join(one if isinstance(one, str) else ", ".join(sorted(one)) for one in pieces)


def name(text: str) -> tuple[str, str]:
    """Somebody's name, typed into the field at the top."""
    return "name", text


def link(text: str) -> tuple[str, str]:
    """A link on the page, by its words."""
    return "link", text


def screen(text: str) -> tuple[str, str]:
    """A screen of the navigation."""
    return "screen", text


def part(text: str) -> tuple[str, str]:
    """A section of the athlete page."""
    return "part", text


def held(text: str) -> Way:
    """The held rows that hold some words."""
    return link("Answer them"), ("held", text)


def percent(share: float) -> str:
    """A chance as the screens write it: never 0 or 100."""
    whole = round(100 * share)
    return "under 1 %" if share < 0.01 else "over 99 %" if share > 0.99 else f"{whole} %"


def mph(speed: float) -> str:
    """A signed speed."""
    return f"{speed / MPH:+.1f}".replace("+0.0", "0.0").replace("-0.0", "0.0")


def pounds(mass: float, digits: int = 1) -> str:
    """A mass without its sign's plus."""
    return f"{mass / POUND:.{digits}f}"


def faster(change: float, digits: int = 2) -> str:
    """A change of a time in words."""
    return f"{abs(change):.{digits}f} s {'faster' if change < 0 else 'slower'}"


def long_day(on: Any) -> str:
    """A day as the screens write it in full."""
    return f"{on.day} {on:%b %Y}"


def sure(book: Book, verdict: str) -> list[dict[str, Any]]:
    """Changes of those at camp that are clear when all are taken together, the surest first.

    Benjamini, Hochberg 1995, J R Stat Soc B 57:289-300, by statsmodels, at a false share of 10 %.
    """
    rows = book.rows(
        "select t.*, a.display_name, m.label from trend t join stay s using (stay_id) join athlete a on a.athlete_id = "
        "t.athlete_id join measure m using (measure) where s.arrived_on <= $today and "
        "coalesce(s.left_on, s.planned_until) >= $today and t.verdict in ('clear gain', 'clear loss', 'not clear yet') "
        "order by abs(t.z) desc",
        today=book.today,
    )
    tails = [2 * norm.sf(abs(row["z"])) for row in rows]
    kept = multipletests(tails, alpha=0.10, method="fdr_bh")[0]
    return [row for row, stands in zip(rows, kept, strict=True) if stands and row["verdict"] == verdict]


def _sure_names(verdict: str) -> Callable[[Book], Pieces]:
    def answer(book: Book) -> Pieces:
        rows = sure(book, verdict)
        title = "Better" if verdict == "clear gain" else "Worse"
        people = list(dict.fromkeys(f"{row['display_name']} ({row['label']}" for row in rows))
        return (title, *people[:1])

    return answer


def _needs_me(book: Book) -> Pieces:
    quiet = "('Working', 'Too early to tell', 'We cannot see', 'On the planned rate, but short of time')"
    n = book.one(
        f"select count(*) from plan_review join plan_advice using (plan_id) where words not in {quiet}"
    )
    return (f"{n} plans to decide", *_too_fast(book))


def _too_fast(book: Book) -> Pieces:
    rows = book.rows(
        "select display_name from plan_review join athlete using (athlete_id) where status = 'too fast'"
    )
    return (str(len(rows)), "Too fast", frozenset(str(row["display_name"]) for row in rows))


def _stalled(book: Book) -> Pieces:
    plan = book.plan("Kwabena Marlwick")
    return (f"{pounds(plan['reachable_kg'])} lb", f"{plan['extra_weeks']:.1f} weeks later")


def _slower(book: Book) -> Pieces:
    row = book.one(
        "select g.* from plan_guard g join plan_review r using (plan_id) where r.athlete_id = $who "
        "and g.measure = 'sprint_10yd' and g.role = 'split'",
        who=book.who("Ansel Briarfen"),
    )
    return ("10-yard sprint", f"slower by {row['margin']:.2f} s or more: {percent(row['chance_worse'])}")


def _change(who: str, measure: str, label: str) -> Callable[[Book], Pieces]:
    def answer(book: Book) -> Pieces:
        row = book.trend(who, measure)
        words = {"not clear yet": "Not clear yet", "clear gain": "Clear gain", "clear loss": "Clear loss"}
        timed = book.one("select unit from measure where measure = $measure", measure=measure) == "s"
        amount = faster(row["change"]) if timed else f"{mph(row['change'])} mph"
        return (label, words[row["verdict"]], amount)

    return answer


def _surest(book: Book) -> Pieces:
    row = book.rows(
        "select t.*, m.label from trend t join measure m using (measure) where athlete_id = $who and camp_id = 'D' and "
        "verdict = 'clear gain' order by abs(z) desc limit 1",
        who=book.who("Haruto Minazukida-Fen"),
    )[0]
    return ("Changed for sure:", str(row["label"]), f"+{row['change'] / POUND:.0f} lb")


def _with_mass(book: Book) -> Pieces:
    amounts = {
        row["row"]: row["amount"]
        for row in book.rows(
            "select row, amount from account_row where athlete_id = $who and measure = 'exit_speed'",
            who=book.who("Haruto Minazukida-Fen"),
        )
    }
    with_body = amounts["mass"] + (amounts["strength"] if amounts["strength"] == amounts["strength"] else 0.0)
    return (f"{mph(with_body)} of {mph(amounts['end'] - amounts['start'])} mph", "mass")


def _broken(book: Book) -> Pieces:
    labels = book.rows(
        "select distinct l.label from trend t join line l using (measure, line) where t.athlete_id = $who "
        "and t.measure = 'sprint_60yd'",
        who=book.who("Ingrid Snowfen"),
    )
    assert len(labels) > 1  # more than one line, by the warehouse
    return ("60-yard sprint", "hand to electronic")


def _slip(book: Book) -> Pieces:
    row = book.one(
        "select h.* from held_row h join athlete a using (athlete_id) where rule = 'unit_slip' and measure = "
        "'body_mass' and display_name like '%Brackwater'"
    )
    return (f"{row['raw_value']} {row['raw_unit']}", str(row["proposed_text"]))


def _whole_file(book: Book) -> Pieces:
    n = book.one("select count(*) from held_row where rule = 'whole_file_unit'")
    return (f"a whole file seems to be in another unit ({n})",)


def _waiting(book: Book) -> Pieces:
    n = book.one("select count(*) as n, count(distinct (group_id, rule)) as asked from held_row")
    return (str(n["n"]), "Held rows", f"{n['asked']} questions")


def _swapped(book: Book) -> Pieces:
    rows = book.rows(
        "select raw_value from held_row join athlete using (athlete_id) where rule = 'swapped_pair' and "
        "display_name like '%Thistlewick' order by display_name"
    )
    assert {float(row["raw_value"]) for row in rows} == {61.0, 84.2}
    return ("61.0 kg", "84.2 kg")


def _sent_again(book: Book) -> Pieces:
    row = book.one("select * from import where file_name like '%resent%'")
    assert row["rows_in"] == row["rows_held"] + row["rows_recognised"]
    return (str(row["file_name"]), f"{row['rows_held']} rows")


def _reversed(book: Book) -> Pieces:
    n = book.one(
        "select count(*) from held_row where rule = 'all_reversed' and measured_on = date '2033-07-25' and "
        "athlete_id = $who",
        who=book.who("Bogdan Reedwhistle"),
    )
    return ("Bogdan Reedwhistle", f"{n} rows", "Correct the side on which the athlete hits or throws")


def _order(book: Book) -> Pieces:
    row = book.rows(
        "select * from peak_order where athlete_id = $who and is_whole order by measured_on desc limit 1",
        who=book.who("Priya Vanamarsh"),
    )[0]
    chain = row["part"].replace("_", " ").replace(">", " → ")
    return (f"{chain} in {row['n_order']} of {row['n_trials']}", "Not measured: hand")


def _separation(book: Book) -> Pieces:
    rows = book.rows(
        "select measured_on, median(value) as middle from reading where athlete_id = $who and "
        "measure = 'hip_shoulder_separation' group by 1 order by 1",
        who=book.who("Priya Vanamarsh"),
    )
    change = rows[-1]["middle"] - rows[0]["middle"]
    error = book.one(
        "select minimal_change_one from measurement_error where measure = 'hip_shoulder_separation' and "
        "line like 'action=windmill%'"
    )
    verdict = "no clear change" if abs(change) <= error else "more than"
    return (f"Hip-shoulder separation {rows[-1]['middle']:.0f} deg", f"{change:+.0f} deg", verdict)


def _camp_gain(book: Book) -> Pieces:
    row = book.one(
        "select * from cohort_gain where camp_id = 'F' and measure = 'exit_speed' and line = $line",
        line=METAL,
    )
    return ("Exit speed", f"{mph(row['gain'])} mph ({mph(row['low'])} to {mph(row['high'])})")


def _left_early(book: Book) -> Pieces:
    n = book.one("select count(*) as n, count(*) filter (left_early) as early from stay where camp_id = 'F'")
    return (f"{n['n']} athletes enrolled", f"{n['early']} left early")


def _per_pound(book: Book) -> Pieces:
    row = book.one(
        "select * from mass_link where scope = 'program' and measure = 'exit_speed' and line = $line and "
        "adjustment = 'time'",
        line=METAL,
    )
    amounts = [f"{row[key] * POUND / MPH:+.2f}" for key in ("per_kg", "low", "high")]
    return (f"{amounts[0]} mph ({amounts[1]} to {amounts[2]})",)


def _standing(book: Book) -> Pieces:
    row = book.one(
        "select * from peer_standing where athlete_id = $who and measure = 'exit_speed'",
        who=book.who("Ansel Briarfen"),
    )
    return ("Exit speed", f"Better than {row['percentile']:.0f} of 100")


def _stage(book: Book) -> Pieces:
    row = book.one(
        "select * from peer_stage where athlete_id = $who and measure = 'exit_speed' and basis = 'growth stage'",
        who=book.who("Mateus Tidewren"),
    )
    return (f"better than {row['percentile']:.0f} of 100 of the same growth stage",)


def _growth(who: str, span: str) -> Callable[[Book], Pieces]:
    def answer(book: Book) -> Pieces:
        row = book.rows(
            "select * from growth_share where athlete_id = $who and span = $span order by last_on desc limit 1",
            who=book.who(who), span=span,
        )[0]  # fmt: skip
        return (f"{row['gained'] / POUND:+.1f} lb", f"{row['fits_growth'] / POUND:+.1f} lb")

    return answer


def _ahead(book: Book) -> Pieces:
    row = book.rows(
        "select * from projection where athlete_id = $who and measure = 'exit_speed' and kind = 'date' and "
        "verdict = 'shown' order by target_on desc limit 1",
        who=book.who("Ansel Briarfen"),
    )[0]
    return ("Exit speed", f"{row['value'] / MPH:.1f} mph", f"{row['low'] / MPH:.1f}")


def _scored(book: Book) -> Pieces:
    row = book.one(
        "select count(*) filter (inside_80) as n, count(inside_80) as scored from past_projection "
        "where measure = 'sprint_10yd' and horizon_weeks > 2 and horizon_weeks <= 4"
    )
    return (
        "10-yard sprint",
        f"Of {row['scored']} earlier ones, {round(100 * row['n'] / row['scored'])} % came inside",
    )


def _consent(book: Book) -> Pieces:
    return ("No summary can be made: the consent ended on",)


def _chance_flags(book: Book) -> Pieces:
    n = book.one(
        "select count(*) from trend join stay using (stay_id) where trend.camp_id = 'F' and verdict in "
        "('clear gain', 'clear loss', 'not clear yet')"
    )
    return (f"of these {n} changes would look clear",)


def _retest(book: Book) -> Pieces:
    row = book.rows(
        "select a.display_name, m.label, r.chance_clear from retest_advice r join stay s using (stay_id) "
        "join athlete a on a.athlete_id = r.athlete_id join measure m using (measure) where r.extra = 1 "
        "and s.arrived_on <= $today and coalesce(s.left_on, s.planned_until) >= $today "
        "order by r.chance_clear desc limit 1",
        today=book.today,
    )[0]
    return ("One more test", f"{row['display_name']} ({row['label']}, {percent(row['chance_clear'])}")


def _unusable(book: Book) -> Pieces:
    rows = book.rows(
        "select a.display_name, count(*) as n from held_row h join athlete a using (athlete_id) join stay s using "
        "(athlete_id) where s.arrived_on <= $today and coalesce(s.left_on, s.planned_until) >= $today and "
        "h.measured_on between s.arrived_on and $today and h.measure <> 'body_mass' group by 1 order by 2 desc",
        today=book.today,
    )
    return ("Unusable values", f"{rows[0]['display_name']} ({rows[0]['n']} values)")


def _untested(book: Book) -> Pieces:
    n = book.one(
        "select count(*) from stay s where arrived_on <= $today and coalesce(left_on, planned_until) >= $today and not "
        "exists (select 1 from session_value v where v.stay_id = s.stay_id and v.measure <> 'body_mass' and "
        "v.held_on >= $today - interval 30 day)",
        today=book.today,
    )
    return ("No test this month", "Nobody" if n == 0 else str(n))


def _next_day(book: Book) -> Pieces:
    on = book.one("select min(on_date) from test_day where on_date > $today", today=book.today)
    return (f"{on:%A} {long_day(on)}",)


def _body(book: Book) -> Pieces:
    row = book.rows(
        "select * from mass_trend where athlete_id = $who order by on_date desc limit 1",
        who=book.who("Ansel Briarfen"),
    )[0]
    lift = book.rows(
        "select * from session_value where athlete_id = $who and measure = 'trap_bar_deadlift' order by held_on desc",
        who=book.who("Ansel Briarfen"),
    )[0]
    return (f"{pounds(row['smoothed_kg'])} lb", "Trap-bar deadlift", f"{pounds(lift['value'], 0)} lb")


def _rate(book: Book) -> Pieces:
    plan = book.plan("Tomislav Eelgrass")
    return (f"{plan['rate'] / POUND:+.2f} lb/wk", f"+{plan['rate_percent']:.2f} %/wk")


def _weighed(book: Book) -> Pieces:
    n = book.one(
        "select count(*) from stay where arrived_on <= $today and coalesce(left_on, planned_until) >= $today",
        today=book.today,
    )
    return (f"Saved today: 0 of {n}",)


def _focus(book: Book) -> Pieces:
    lines = map(json.loads, (book.root / "focus_log.jsonl").read_text(encoding="utf-8").splitlines())
    mine = [one for one in lines if one["athlete_id"] == book.who("Ansel Briarfen")]
    label = book.one("select label from measure where measure = $measure", measure=mine[-1]["measure"])
    return (mine[-1]["text"], str(label), long_day(date.fromisoformat(mine[-1]["review_on"])))


def _two_days(book: Book) -> Pieces:
    rows = book.rows(
        "select * from session_value where athlete_id = $who and measure = 'exit_speed' order by held_on",
        who=book.who("Ansel Briarfen"),
    )
    first, last = (f"{row['value'] / MPH:.1f} mph" for row in (rows[0], rows[-1]))
    return ("Exit speed", f"{first}, then {last}")


def _camps_apart(book: Book) -> Pieces:
    row = book.one("select * from camp_spread where measure = 'exit_speed' and line = $line", line=METAL)
    return ("camps cannot be told apart" if row["n_apart"] == 0 else "Some camps differ",)


def _no_plan(book: Book) -> Pieces:
    born = book.one("select birth_date from athlete where athlete_id = $who", who=book.who("Noor Sandglass"))
    assert (book.today - born.date()).days < 14 * 365.25
    return ("No weight plan is made for an athlete under 14",)


def _across(book: Book) -> Pieces:
    labels = book.rows("select distinct line from trend where athlete_id = 'T1' and measure = 'exit_speed'")
    assert len(labels) == 2  # the tee and the machine are two lines
    return ("Exit speed", "delivery changed: tee to machine")


def _more_swings(book: Book) -> Pieces:
    row = book.one("select * from trend where athlete_id = 'T2' and measure = 'exit_speed'")
    return ("Exit speed", "Not clear yet", f"{mph(row['change'])} mph")


def _erased(book: Book) -> Pieces:
    assert book.rows("select * from athlete where display_name like '%Marshreed%'") == []
    return ("Nobody on the roster is called", "Marshreed")


def _family(book: Book) -> Pieces:
    row = book.trend(FAMILY_OF, "trap_bar_deadlift")
    start, end = row["fitted_start"], row["fitted_start"] + row["change"]
    return ("What got better", "Trap-bar deadlift", f"{pounds(start, 0)} lb to about {pounds(end, 0)} lb")


STRENGTH, COACH, DIRECTOR, STEWARD = "strength coach", "performance coach", "director", "data steward"


def _ask(
    number: str, role: str, asks: str, way: Way, answer: Callable[[Book], Pieces], place: str = DEMO
) -> Question:
    return Question(number=number, role=role, asks=asks, way=way, answer=answer, place=place)


def _said(*pieces: str) -> Callable[[Book], Pieces]:
    return lambda book: pieces


def _on_plan(book: Book) -> Pieces:
    plan = book.plan("Ansel Briarfen")
    assert plan["status"] == "on plan"
    return ("On plan", f"chance to reach the target in time {percent(plan['chance_target'])}")


def _early(book: Book) -> Pieces:
    assert book.plan("Galen Whinholt")["status"] == "too early to tell"
    return ("oo early to tell",)


def _no_push(book: Book) -> Pieces:
    advice = book.one(
        "select d.words from plan_advice d join plan_review r using (plan_id) where r.athlete_id = $who",
        who=book.who("Leilani Fernkelp"),
    )
    return (str(advice), "No push to gain", "Leilani Fernkelp")


SCENARIOS = (
    _ask("1", STRENGTH, "Is Briarfen on plan?", (link("^Ansel Briarfen$"),), _on_plan),
    _ask("2", STRENGTH, "Marlwick has stalled. What can I offer?", (link("^Kwabena Marlwick$"),), _stalled),
    _ask("3", STRENGTH, "Can I judge Whinholt's plan yet?", (name("Whinholt"),), _early),
    _ask("4", STRENGTH, "Who gains too fast?", (), _too_fast),
    _ask("5", STRENGTH, "Did Briarfen get slower with the mass?", (link("^Ansel Briarfen$"),), _slower),
    _ask("6", COACH, "How much of Minazukida-Fen's exit speed goes with mass?",
         (name("Minazukida"), part("What goes with it")), _with_mass),
    _ask("7", COACH, "Does Briarfen hit harder than at intake, for sure?", (name("Briarfen"),),
         _change("Ansel Briarfen", "exit_speed", "Exit speed")),
    _ask("8", COACH, "Why is there no one line of Snowfen's 60-yard sprint?",
         (name("Snowfen"), part("Changes")), _broken),
    _ask("9", COACH, "Fernmoss hits 9 mph more off the machine. A gain?",
         (name("Fernmoss"), part("Changes")), _across, CAMP),
    _ask("10", COACH, "Siltwood's best of 20 beats the best of 5. A gain?", (name("Siltwood"),), _more_swings, CAMP),
    _ask("11", STEWARD, "What is wrong with Brackwater's body mass?", held("Brackwater"), _slip),
    _ask("12", STEWARD, "Is a whole file in another unit?", (), _whole_file),
    _ask("13", STEWARD, "Were the two Thistlewicks swapped on the scale?", held("Thistlewick"), _swapped),
    _ask("14", STEWARD, "A file came again. What is new in it?", held("resent"), _sent_again),
    _ask("15, 16", COACH, "In which order does Vanamarsh turn?", (name("Vanamarsh"), part("Movement")), _order),
    _ask("17", STEWARD, "Why is nothing of Reedwhistle's sensors used?", held("Reedwhistle"), _reversed),
    _ask("18", COACH, "Did Vanamarsh's separation grow?", (name("Vanamarsh"), part("Movement")), _separation),
    _ask("19", DIRECTOR, "What did this camp gain, leavers counted?", (screen("Cohorts"),), _camp_gain),
    _ask("20", DIRECTOR, "How much exit speed goes with a pound?",
         (screen("Cohorts"), ("fold", "What goes with added mass and added strength")), _per_pound),
    _ask("21", COACH, "Where is Briarfen among athletes of similar build?",
         (name("Briarfen"), part("Similar builds")), _standing),
    _ask("22", COACH, "How much of Snowfen's mass is growth?", (name("Snowfen"), part("Growth")),
         _growth("Ingrid Snowfen", "stay")),
    _ask("23", COACH, "Did past projections come true?", (name("Snowfen"), part("Ahead")), _scored),
    _ask("24", DIRECTOR, "May a sheet of Snowfen leave?", (screen("Summaries"), ("pick", "Ingrid Snowfen")),
         _consent),
    _ask("25", "family", "What got better?", (), _family, FAMILY),
    _ask("26", COACH, "Where is Tidewren among athletes of the same growth stage?",
         (name("Tidewren"), part("Similar builds")), _stage),
    _ask("27", COACH, "Does Sandglass's mass fit growth?", (name("Sandglass"), part("Growth")),
         _growth("Noor Sandglass", "stay")),
    _ask("28", STRENGTH, "Fernkelp is stronger without mass. Push to gain?", (), _no_push),
    _ask("29", COACH, "How many clear verdicts are luck?", (screen("Athlete"),), _chance_flags),
    _ask("30", COACH, "Marshreed was erased. Is anything left?", (name("Marshreed"),), _erased, CAMP),
)  # fmt: skip
HALLWAY = (
    _ask("", STRENGTH, "Whose weight plan needs me today?", (), _needs_me),
    _ask("", STRENGTH, "How fast does Eelgrass gain?", (link("^Tomislav Eelgrass$"),), _rate),
    _ask("", STRENGTH, "Who has to step on the scale yet?", (screen("Weigh-in"),), _weighed),
    _ask("", STRENGTH, "May Sandglass have a weight plan?", (screen("Weight plans"), link("Create a plan")), _no_plan),
    _ask("", COACH, "Who got better, for sure?", (), _sure_names("clear gain")),
    _ask("", COACH, "Who got worse, for sure?", (), _sure_names("clear loss")),
    _ask("", COACH, "Whom should I test once more?", (), _retest),
    _ask("", COACH, "Whose values can I not use?", (), _unusable),
    _ask("", COACH, "Whom did nobody test this month?", (), _untested),
    _ask("", COACH, "When is the next test day?", (), _next_day),
    _ask("", COACH, "Is Briarfen faster over 60 yards than at intake, for sure?", (name("Briarfen"),),
         _change("Ansel Briarfen", "sprint_60yd", "60-yard sprint")),
    _ask("", COACH, "What got better for Minazukida-Fen, for sure?", (name("Minazukida"),), _surest),
    _ask("", COACH, "How heavy and how strong is Briarfen now?", (name("Briarfen"),), _body),
    _ask("", COACH, "What do Briarfen and I work on?", (name("Briarfen"), part("Review")), _focus),
    _ask("", COACH, "What may Briarfen hit at the end of camp?", (name("Briarfen"), part("Ahead")), _ahead),
    _ask("", COACH, "What did Briarfen hit on the first and the last day?", (name("Briarfen"), link("^Compare$")),
         _two_days),
    _ask("", DIRECTOR, "How many came, and how many left early?", (screen("Cohorts"),), _left_early),
    _ask("", DIRECTOR, "Which camp did better in exit speed?", (screen("Camp review"),), _camps_apart),
    _ask("", STEWARD, "How much waits for me?", (), _waiting),
)  # fmt: skip
QUESTIONS = (*SCENARIOS, *HALLWAY)
