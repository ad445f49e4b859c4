"""The rules that hold a row back: what each says to the data steward, and what they can do."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One reason for holding a row. `what` and `mend` may name the fields of a held row in braces.

    With a `priority` the rule is the query sql/hold/<key>.sql, whose rows it holds: where several rules hold one
    row, the lowest priority is what it is held for. The others are raised in sql/check, which says their priority.
    """

    key: str
    title: str
    what: str
    mend: str
    priority: float | None = None


def _rules(*rules: tuple[str, str, str, str] | tuple[str, str, str, str, float]) -> Mapping[str, Rule]:
    return {
        key: Rule(key=key, title=title, what=what, mend=fix, priority=priority[0] if priority else None)
        for key, title, what, fix, *priority in rules
    }


RULES = _rules(
    ("unknown_athlete", "Nobody on the roster has this name or id", "no athlete on the roster is called {athlete_text!r}",
     "assign the row to an athlete, or import a roster that has them"),
    ("same_name", "Two athletes have this name", "more than one athlete is called {athlete_text!r}",
     "assign the row to the right one"),
    ("unknown_measure", "The measure is not in the catalogue", "{measure_text!r} is not a measure of the catalogue",
     "add it to [measure_names] of the mapping or to measures.toml"),
    ("unknown_unit", "The unit is not accepted for this measure", "unit {raw_unit!r} is not accepted for {measure}",
     "state an accepted unit in the file or the mapping"),
    ("unknown_condition", "Condition not known", "{detail}",
     "use a listed value, or translate the word under [condition_words] in the mapping"),
    ("unreadable_value", "The value cannot be read as a number", "{raw_value!r} is not a number or word that {measure} accepts",
     "correct the file and import it again, or reject the row"),
    ("no_value", "No value", "the row has no value", "reject it, or fill it in and import the file again"),
    ("unreadable_trial", "The trial is no number", "{trial_text!r} is not a trial number 1, 2, 3 …",
     "correct the file and import it again, or accept the row as it is counted in the file"),
    ("unreadable_date", "The date cannot be read", "{date_text!r} {time_text!r} is not a date and time that can be read, "
     "or lies on another day by the clock of the camp",
     "write dates like 2033-07-18 or state date_format in the mapping"),
    ("date_ambiguous", "Day and month can be read both ways", "{date_text!r} is not written year-month-day and no date format was declared",
     "take the proposed reading for the file; where both readings lie in a camp, state date_format in the mapping and import it again"),
    ("before_birth", "The date lies before the athlete's birth", "{on_date} is not after the athlete's birth date", "correct the date or the roster"),
    ("in_future", "The date lies in the future", "{on_date} is after the day the file was received", "correct the date"),
    ("outside_stay", "The date lies outside every stay of the athlete", "{on_date} lies in none of the athlete's stays",
     "correct the date or the stays file, or accept it as it is"),
    ("out_of_range", "The value is outside what is plausible", "{shown_value} is outside the possible range of {measure}",
     "correct or reject it"),
    ("unit_slip", "Looks like the right number in another unit", "{shown_value} does not fit the athlete ({shown_own}); as {detail} it does",
     "take the proposed value if the unit was mistaken"),
    ("lost_point", "Looks like a lost decimal point", "{shown_value} does not fit the athlete ({shown_own}); with the point moved it does",
     "take the proposed value if the point was left out"),
    ("whole_file_unit", "A whole file seems to be in another unit", "most values of {measure} in this file fit their athletes only as {detail}",
     "answer once for the whole file"),
    ("peaks_after", "Every peak falls after the event", "no peak of this day comes before contact or release: times before it are negative, and {shown_value} is after it",
     "take the times with their sign turned if they are times before the event, accept them if they are after it; one answer for the file"),
    ("peaks_in_seconds", "Times of peaks look like seconds", "every peak of this day lies within 2 ms of the event: these look like seconds, not milliseconds",
     "take the proposed times if they were in seconds; one answer for the file"),
    ("impossible_jump", "Too far from the athlete's own history", "{shown_value} is far from the athlete's other values ({shown_own})",
     "check name and unit; accept it if it is true"),
    ("height_falls", "The athlete would have become shorter", "{shown_value} breaks the athlete's height record by more than 1 cm downwards",
     "measure again", 8),
    ("duplicate_near", "Almost the same reading twice", "{shown_value} repeats a reading less than a minute older",
     "reject one of the two", 10),
    ("correction", "An earlier reading would be replaced", "{shown_value} differs from the value already there ({shown_standing})",
     "take the new value, keep both, or reject the new one"),
    ("swapped_pair", "Two athletes seem to be swapped", "{shown_value} fits {detail} and not this athlete ({shown_own}); the other's value fits this one",
     "assign each value to the right athlete, or accept both", 4),
    ("copy_down", "The same value for many athletes in a row", "{raw_value!r} stands in four or more neighbouring rows for different athletes",
     "check the sheet for a copied cell", 3),
    ("sentinel", "A value that a device writes when it has measured nothing", "{raw_value!r} is what devices write when they measured nothing",
     "reject it as missing, or accept it if it was measured"),
    ("split_order", "The splits of one run are not in order", "the splits of this run do not rise with the distance", "reject the run", 5.5),
    ("false_start", "Faster than anybody starts: a false start or a double trigger", "{shown_value} is faster than anybody runs: a false start or a double trigger",
     "reject the run"),
    ("reps_too_many", "Too many repetitions to estimate a maximum", "{reps_text!r} repetitions are not 1 to 6: the estimate would be a guess",
     "reject it, or enter a heavier set"),
    ("radar_angle", "The radar stood too far from the line of flight", "the radar stood {angle_text} degrees off the line of flight; over 10 it reads too low",
     "reject it: what is missing depends on the angle at the moment of release"),
    ("all_reversed", "Every channel of an athlete runs backwards", "the peak is negative, and so is every other channel of this athlete",
     "correct the side on which the athlete hits or throws, and import the file again"),
    ("reversed_sensor", "One sensor runs against the others", "the peak is negative while other channels are not: this sensor may have sat on the other side",
     "take the values with their sign turned if the film confirms it"),
    ("channel_lost", "A channel of a trace shows no peak", "{detail}",
     "reject it as not measured; nothing is filled in across a drop-out"),
    ("plan_start", "A weight plan starts far from the weigh-ins", "start mass {shown_value} is {shown_away} from the trend of the weigh-ins ({shown_own})",
     "take the trend as the start; accept the typed start only where it is right: the rate is reckoned from the trend either way"),
    ("plan_second", "A second weight plan beside one that runs", "plan {plan_id!r} runs beside plan {detail!r} of the same athlete",
     "write it as the next version of the first (same plan_id, version one higher), or end the first, and import the file again; or reject it"),
    ("people_row", "Row of a people file not usable", "{detail}", "correct the file and import it again"),
)  # fmt: skip

# What cannot be taken as it stands, since nobody can say what it would mean;
# `read/held_for_decision.sql` refuses it too.
UNREADABLE = frozenset({
    "unknown_athlete", "same_name", "unknown_measure", "unknown_unit", "unknown_condition", "unreadable_value",
    "no_value", "unreadable_date", "date_ambiguous", "reps_too_many", "people_row", "plan_second",
    "channel_lost",
})  # fmt: skip
