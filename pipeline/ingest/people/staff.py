"""people.toml: who may sign in and with which roles, and whether somebody who did may stay."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from latewood.pipeline.access import ROLES, Grant, Viewer
from latewood.pipeline.errors import SignInError, StaffError

FILE = "people.toml"
_TOP, _SIGN_IN = {"people", "sign_in"}, {"hours", "verified_email"}
_PERSON, _ROLE = {"email", "name", "roles", "subject"}, {"role", "camps"}
_EMAIL = re.compile(r"[^@\s<>]+@[^@\s<>]+\.[^@\s<>]+")
MOST_HOURS: Final = 24.0
LONGEST_NAME: Final = 80
_CLOCKS: Final = 120.0  # seconds by which the clock of a provider may run ahead of ours


@dataclass(frozen=True, slots=True, kw_only=True)
class StaffMember:
    """One person of people.toml; `subject` is the provider's own id where the file states it."""

    email: str
    name: str
    grants: tuple[Grant, ...]
    subject: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Staff:
    """Everybody who may sign in, by e-mail in lower case, and how long a sign-in lasts (hours)."""

    people: Mapping[str, StaffMember]
    hours: float = 12.0
    verified_email: bool = True


def load_staff(root: Path) -> Staff:
    """Read people.toml of a data folder; a missing file lets nobody in.

    Raises StaffError naming the entry, its line, the field, what is accepted and the fix.
    """
    path = root / FILE
    if not path.exists():
        return Staff(people={})
    try:
        return parse_staff(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise StaffError(
            f"{FILE}: cannot be read ({error}); correct its permissions or its encoding"
        ) from error


def parse_staff(text: str) -> Staff:
    """The people that people.toml states, each checked. Raises StaffError."""
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise StaffError(f"{FILE}: is not TOML ({error}); correct that line") from error
    _table(raw, _TOP, FILE)
    entries = raw.get("people", [])
    if not isinstance(entries, list):
        raise StaffError(f"{FILE}, people: must be entries that begin with [[people]]")
    lines = [n for n, line in enumerate(text.splitlines(), 1) if line.strip().startswith("[[people]]")]
    people: dict[str, StaffMember] = {}
    for number, entry in enumerate(entries, start=1):
        at = f", line {lines[number - 1]}" if len(lines) == len(entries) else ""
        person = _person(entry, f"{FILE}{at}, entry {number}")
        if person.email in people:
            raise StaffError(
                f"{FILE}{at}, entry {number}, email: {person.email} stands in an earlier entry; keep one"
            )
        people[person.email] = person
    return _staff(people, raw.get("sign_in", {}))


def _table(raw: object, accepted: set[str], where: str) -> Mapping[str, object]:
    """The table, once it is one and holds no field but those accepted."""
    if not isinstance(raw, dict):
        raise StaffError(f"{where}: must be a table; accepted fields are {', '.join(sorted(accepted))}")
    for field in sorted(set(raw) - accepted):
        raise StaffError(f"{where}, {field}: no such field; accepted are {', '.join(sorted(accepted))}")
    return raw


def _staff(people: Mapping[str, StaffMember], given: object) -> Staff:
    raw = _table(given, _SIGN_IN, f"{FILE}, sign_in")
    hours, verified = raw.get("hours", 12), raw.get("verified_email", True)
    if isinstance(hours, bool) or not isinstance(hours, int | float) or not 0 < hours <= MOST_HOURS:
        raise StaffError(
            f"{FILE}, sign_in.hours: {hours!r} is not a number of hours up to {MOST_HOURS:.0f}; write 12"
        )
    if not isinstance(verified, bool):
        raise StaffError(f"{FILE}, sign_in.verified_email: {verified!r} is not true or false; write true")
    return Staff(people=people, hours=float(hours), verified_email=verified)


def _person(given: object, where: str) -> StaffMember:
    raw = _table(given, _PERSON, where)
    email, name = raw.get("email"), raw.get("name")
    if not isinstance(email, str) or not email.isascii() or not _EMAIL.fullmatch(email.strip()):
        raise StaffError(f"{where}, email: {email!r} is not an e-mail address in plain letters; write one")
    where = f"{where} ({email.strip().lower()})"
    if not isinstance(name, str) or not name.strip() or len(name) > LONGEST_NAME:
        raise StaffError(
            f"{where}, name: {name!r} is no name of up to {LONGEST_NAME} letters; write the person's name"
        )
    roles, subject = raw.get("roles"), raw.get("subject", "")
    if not isinstance(roles, list) or not roles:
        raise StaffError(
            f"{where}, roles: must be a list such as {[next(iter(ROLES))]!r}; write at least one"
        )
    if not isinstance(subject, str):
        raise StaffError(
            f"{where}, subject: {subject!r} is not text; write the provider's id or leave it out"
        )
    return StaffMember(
        email=email.strip().lower(),
        name=name.strip(),
        grants=tuple(_grant(role, f"{where}, roles") for role in roles),
        subject=subject,
    )


def _grant(given: object, where: str) -> Grant:
    raw = _table({"role": given} if isinstance(given, str) else given, _ROLE, where)
    key, camps = raw.get("role"), raw.get("camps")
    if not isinstance(key, str) or key not in ROLES:
        raise StaffError(f"{where}: {key!r} is not one of {', '.join(ROLES)}; write one of these")
    if camps is None:
        return Grant(role=ROLES[key])
    if not ROLES[key].by_camp:
        raise StaffError(f"{where}, camps: a {ROLES[key].title} works on every camp; leave camps out")
    if not isinstance(camps, list) or not camps or not all(isinstance(one, str) and one for one in camps):
        raise StaffError(f"{where}, camps: {camps!r} is no list of camp ids; write some or leave camps out")
    return Grant(role=ROLES[key], camps=frozenset(camps))


def admit(staff: Staff, claims: Mapping[str, object], now: float, ended: Mapping[str, float]) -> Viewer:
    """The viewer behind the claims of a sign-in (already checked for their signature).

    `now` is in seconds since 1970, `ended` holds, per e-mail, the time before which every sign-in has ended.
    Raises SignInError where nobody of that e-mail is in people.toml, the provider has not checked the address,
    the sign-in is too old, lies in the future, or was ended.
    """
    email, issued = str(claims.get("email") or ""), claims.get("iat")
    # Lower case only in plain letters: two different letters of other scripts can have one lower case.
    person = staff.people.get(email.strip().lower()) if email.isascii() else None
    if person is None or (person.subject and person.subject != claims.get("sub")):
        raise SignInError("this account is not in the program's list of people; ask the director to add it")
    verified = claims.get("email_verified")
    if verified is False or (staff.verified_email and verified is not True):
        raise SignInError("your provider has not checked this e-mail address; confirm it there, then sign in")
    if isinstance(issued, bool) or not isinstance(issued, int | float):
        raise SignInError("the sign-in does not say when it was made; sign in again")
    if not -_CLOCKS <= now - issued <= staff.hours * 3600.0:
        raise SignInError("your sign-in has expired; sign in again")
    if issued <= ended.get(person.email, 0.0):
        raise SignInError("you have signed out; sign in again")
    return Viewer(name=person.name, email=person.email, grants=person.grants)
