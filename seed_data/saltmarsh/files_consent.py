"""Consents to a recruiting summary: most stand, some are missing, ended, withdrawn or given by the wrong person."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np

from saltmarsh.academy import CLOCK, SEED
from saltmarsh.people import Person
from saltmarsh.sessions import Academy
from saltmarsh.sheets import Sheet

STATES = {"stands": 0.82, "missing": 0.07, "ended": 0.05, "withdrawn": 0.04, "given by a minor": 0.02}
TOLD = {
    "Ansel Briarfen": "stands", "Haruto Minazukida-Fen": "stands", "Leilani Fernkelp": "stands",
    "Ingrid Snowfen": "ended", "Noor Sandglass": "missing", "Dario Quillmere": "withdrawn",
}  # fmt: skip
WITH_FAMILY_PAGE = "Jasper Harrowholt"
SOME = (
    "exit_speed|throw_speed|sprint_60yd|sprint_30yd",
    "exit_speed|pitch_speed|windmill_pitch_speed|pop_time",
)
HEADERS = (
    "athlete", "given_by", "given_on", "expires_on", "withdrawn_on", "fields", "measures", "photo", "projection",
    "reference",
)  # fmt: skip


def consent_states(academy: Academy) -> list[tuple[Person, str]]:
    """Every athlete with what is planted about their consent, in the order of the roster."""
    rng = np.random.default_rng([SEED, 6])
    drawn = rng.choice(list(STATES), size=len(academy.people), p=list(STATES.values()))
    states = []
    for person, state in zip(academy.people, map(str, drawn), strict=True):
        if state == "given by a minor" and person.age(CLOCK) >= 17.5:
            state = "stands"
        states.append((person, TOLD.get(person.name, state)))
    return states


def consent_sheet(academy: Academy) -> Sheet:
    """consents.csv, one row for each athlete whose consent is not missing."""
    sheet = Sheet(name="consents.csv", headers=HEADERS, kind="consents")
    rng = np.random.default_rng([SEED, 7])
    for number, (person, state) in enumerate(consent_states(academy), start=1):
        given = date(2033, 5, 9) + timedelta(days=int(rng.integers(0, 40)))
        everything, some = rng.random() < 0.8, str(rng.choice(SOME))
        mass, projection = rng.random() < 0.75, rng.random() < 0.2
        if state == "missing":
            continue
        adult = person.age(given) >= 18
        by_himself = adult or state == "given by a minor"
        sheet.add(
            person,
            None,
            athlete=person.athlete_id,
            given_by="athlete" if by_himself else "guardian",
            given_on=given.isoformat(),
            expires_on="2033-06-30" if state == "ended" else "2033-12-31",
            withdrawn_on="2033-07-18" if state == "withdrawn" else "",
            fields="all" if mass else "graduation_year|positions|sides|height",
            measures="all" if everything else some,
            photo="no",
            projection="yes" if projection or person.name == "Ansel Briarfen" else "no",
            reference=f"folder 2033, form {number:03d} (invented)",
        )
    return sheet


def family_consent_sheet(academy: Academy) -> Sheet:
    """consents_family.csv: one family has agreed to a page for themselves, so that there is one from the start."""
    sheet = Sheet(name="consents_family.csv", headers=("purpose", *HEADERS), kind="consents")
    person = next(one for one in academy.people if one.name == WITH_FAMILY_PAGE)
    sheet.add(
        person,
        None,
        purpose="family",
        athlete=person.athlete_id,
        given_by="guardian",
        given_on="2033-06-13",
        expires_on="2033-12-31",
        withdrawn_on="",
        fields="height",
        measures="all",
        photo="no",
        projection="no",
        reference="folder 2033, family form 001 (invented)",
    )
    return sheet
