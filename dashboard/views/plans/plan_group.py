"""Plans for a group: who may be in it, and each one's own start, target and ceiling; pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from latewood.dashboard.text.wording import Scale, count_of
from latewood.dashboard.views.lookup import Lookup
from latewood.dashboard.views.plans.plan_case import PlanRecord
from latewood.dashboard.views.plans.plan_form import Maturity
from latewood.dashboard.views.plans.plans import is_active
from latewood.pipeline.ingest.logs.planlog import VERSION, age_on
from latewood.pipeline.stats.plans.allowed import age_refusal
from latewood.pipeline.stats.plans.rules import PlanSettings

BY_NAME, EVERYBODY = "by name", "everybody"
HIDDEN = "hides their mass: make the plan alone with them"
PLANNED = "has a plan that runs: change it there"
NO_TREND = "no weigh-in of these days: weigh in on three fasted mornings first"


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One athlete at camp; `why` says why no plan is made for them in a group, '' where one may be."""

    athlete_id: str
    name: str
    positions: tuple[str, ...]
    maturity: Maturity
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupChoice:
    """One way to pick the group: its key, its words, and who is in it."""

    key: str
    label: str
    athlete_ids: tuple[str, ...]


def build_candidates(
    names: Iterable[str],
    record: PlanRecord,
    stages: Mapping[str, str],
    settings: PlanSettings,
    of: tuple[Lookup, date],
) -> tuple[Candidate, ...]:
    """Everybody at camp on the day, by name: first those who may be in a group, then the others with the reason."""
    lookup, today = of
    planned = _planned(record, lookup, today)
    made = []
    for athlete_id in names:
        athlete = lookup.athletes[athlete_id]
        maturity = Maturity(age=age_on(athlete.birth_date, today), stage=stages.get(athlete_id, ""))
        why = age_refusal(maturity.age, maturity.stage, settings)
        if not why:
            why = PLANNED if athlete_id in planned else HIDDEN if athlete_id in record.hidden else ""
        positions = tuple(one.strip() for one in (athlete.positions or "").split("/") if one.strip())
        made.append(
            Candidate(
                athlete_id=athlete_id, name=lookup.name(athlete_id), positions=positions, maturity=maturity, why=why,
            )
        )  # fmt: skip
    return tuple(sorted(made, key=lambda one: (bool(one.why), one.name, one.athlete_id)))


def _planned(record: PlanRecord, lookup: Lookup, today: date) -> frozenset[str]:
    """Who has a plan that runs, as published or as written down since."""
    runs = {
        one.plan_id: one.athlete_id
        for one in record.plans
        if is_active(one, lookup.stays.get(one.stay_id or ""), today)
    }
    for event in record.events:
        if event.kind != VERSION:
            continue
        over = event.facts.get("ended_on") or date.fromisoformat(str(event.facts["target_on"])) < today
        runs.pop(event.plan_id, None)
        if not over:
            runs[event.plan_id] = event.athlete_id
    return frozenset(runs.values())


def group_choices(candidates: Sequence[Candidate]) -> tuple[GroupChoice, ...]:
    """By name, everybody who may have a plan, or those of one position; never by body mass."""
    may = [one for one in candidates if not one.why]
    positions = sorted({position for one in may for position in one.positions})
    first = (
        GroupChoice(key=BY_NAME, label="Pick by name", athlete_ids=()),
        _choice(EVERYBODY, "Everybody without a plan", may),
    )
    return first + tuple(_choice(one, one, [who for who in may if one in who.positions]) for one in positions)


def _choice(key: str, label: str, who: Sequence[Candidate]) -> GroupChoice:
    return GroupChoice(
        key=key, label=f"{label}: {len(who)}", athlete_ids=tuple(one.athlete_id for one in who)
    )


def left_out(candidates: Sequence[Candidate]) -> tuple[str, ...]:
    """Who cannot be in a group, with the reason."""
    return tuple(f"{one.name}: {one.why}" for one in candidates if one.why)


def target_at(start_kg: float, percent: float, weeks: float) -> float:
    """The mass after so many weeks at so many per cent of the start mass a week.

    >>> target_at(80.0, 0.25, 6.0)
    81.2
    """
    return start_kg * (1.0 + percent / 100.0 * max(weeks, 0.0))


def head_of(name: str, start_kg: float, ceiling_kg: float, scale: Scale) -> str:
    """Where one athlete starts, and the most that may be planned."""
    return f"{name}: starts from {scale.text(start_kg)}; no more than {scale.text(ceiling_kg)} by then"


def saved_words(saved: Sequence[str], failed: Sequence[str]) -> str:
    """What was saved and what was not, in a line."""
    done = f"Saved {count_of(len(saved), 'plan')}: {', '.join(saved)}." if saved else "Saved no plan."
    return f"{done} Not saved: {'; '.join(failed)}." if failed else done
