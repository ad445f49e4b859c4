"""people.toml: read with errors that name the place and the fix; and who is let in by it."""

from __future__ import annotations

import pytest

from latewood.pipeline.errors import SignInError, StaffError
from latewood.pipeline.ingest.people import sign_out
from latewood.pipeline.ingest.people.staff import Staff, admit, load_staff, parse_staff

GOOD = """
[sign_in]
hours = 8

[[people]]
email = "Sage@Example.org"
name = "Sage Fenwick"
roles = ["director", {role = "strength_coach", camps = ["K"]}]

[[people]]
email = "reed@example.org"
name = "Reed Marsh"
roles = ["data_steward"]
subject = "17"
"""
NOW = 2_000_000_000.0
CLAIMS = {"email": "sage@example.org", "email_verified": True, "iat": NOW - 60, "sub": "1"}


def test_people_roles_and_camps_are_read() -> None:
    staff = parse_staff(GOOD)
    assert staff.hours == 8.0
    sage = staff.people["sage@example.org"]
    assert [(grant.role.key, grant.camps) for grant in sage.grants] == [
        ("director", None),
        ("strength_coach", frozenset({"K"})),
    ]


def entry(**fields: str) -> str:
    given = {"email": '"a@example.org"', "name": '"Ada Fen"', "roles": '["director"]', **fields}
    return "\n[[people]]\n" + "\n".join(f"{key} = {value}" for key, value in given.items() if value) + "\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[[people]\n", r"people.toml: is not TOML .*line 1.*correct that line"),
        ("people = 3\n", r"people.toml, people: must be entries that begin with \[\[people\]\]"),
        ("[peopel]\n", r"people.toml, peopel: no such field; accepted are people, sign_in"),
        (entry() + entry(email='"b@example.org"', role='"director"'), r"line 7, entry 2, role: no such field"),
        (entry(email=""), r"line 2, entry 1, email: None is not an e-mail address"),
        (entry(email='"ada"'), r"email: 'ada' is not an e-mail address in plain letters; write one"),
        (entry(email='"ad\u0430@example.org"'), r"email: .* is not an e-mail address in plain letters"),
        (entry() + entry(email='"A@EXAMPLE.org"'), r"entry 2, email: a@example.org stands in an earlier entry"),
        (entry(name='" "'), r"entry 1 \(a@example.org\), name: ' ' is no name"),
        (entry(name=f'"{"x" * 300}"'), r"name: .* is no name of up to 80 letters"),
        (entry(roles="[]"), r"entry 1 \(a@example.org\), roles: must be a list such as \['director'\]"),
        (entry(roles='["boss"]'), r"roles: 'boss' is not one of director, strength_coach, .*write one of these"),
        (entry(roles='[{role = "director", camp = "K"}]'), r"roles, camp: no such field; accepted are camps, role"),
        (entry(roles='[{role = "director", camps = "K"}]'), r"roles, camps: 'K' is no list of camp ids"),
        (entry(roles='[{role = "director", camps = []}]'), r"roles, camps: \[\] is no list of camp ids"),
        (entry(roles='[{role = "data_steward", camps = ["K"]}]'), r"a data steward works on every camp"),
        (entry(subject="17"), r"subject: 17 is not text"),
        ("[sign_in]\nhours = 100\n", r"sign_in.hours: 100 is not a number of hours up to 24"),
        ("[sign_in]\nhours = true\n", r"sign_in.hours: True is not a number"),
        ("[sign_in]\nverified_email = 1\n", r"sign_in.verified_email: 1 is not true or false"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_named_with_its_place_and_mend(text, said) -> None:
    with pytest.raises(StaffError, match=said):
        parse_staff(text)


def test_a_missing_file_lets_nobody_in(tmp_path) -> None:
    with pytest.raises(SignInError, match="not in the program's list"):
        admit(load_staff(tmp_path), CLAIMS, NOW, {})


def test_whoever_is_on_the_list_is_let_in_with_his_roles() -> None:
    viewer = admit(parse_staff(GOOD), {**CLAIMS, "email": "SAGE@example.org"}, NOW, {})
    assert (viewer.name, viewer.email) == ("Sage Fenwick", "sage@example.org")
    assert viewer.holds("export")


@pytest.mark.parametrize(
    ("claims", "said"),
    [
        ({"email": "other@example.org"}, "not in the program's list"),
        ({"email": ""}, "not in the program's list"),
        ({"email": None}, "not in the program's list"),
        ({"email": "\u017fage@example.org"}, "not in the program's list"),  # its upper case is an S
        ({"email": "sage@example.org.evil.test"}, "not in the program's list"),
        ({"email": "reed@example.org", "sub": "18"}, "not in the program's list"),
        ({"email_verified": False}, "has not checked this e-mail"),
        ({"email_verified": None}, "has not checked this e-mail"),
        ({"email_verified": "true"}, "has not checked this e-mail"),
        ({"iat": NOW - 8 * 3600 - 1}, "has expired"),
        ({"iat": NOW + 600}, "has expired"),
        ({"iat": None}, "does not say when"),
        ({"iat": "1999"}, "does not say when"),
        ({"iat": True}, "does not say when"),
    ],
)
def test_everybody_else_is_not(claims, said) -> None:
    with pytest.raises(SignInError, match=said):
        admit(parse_staff(GOOD), {**CLAIMS, **claims}, NOW, {})


def test_a_provider_that_says_nothing_of_the_address_needs_the_switch() -> None:
    silent = {key: value for key, value in CLAIMS.items() if key != "email_verified"}
    trusting = parse_staff(GOOD.replace("hours = 8", "hours = 8\nverified_email = false"))
    assert admit(trusting, silent, NOW, {}).email
    with pytest.raises(SignInError, match="has not checked"):
        admit(trusting, {**silent, "email_verified": False}, NOW, {})


def test_a_sign_in_that_was_ended_does_not_count_again(tmp_path) -> None:
    staff = parse_staff(GOOD)
    sign_out.end(tmp_path, "sage@example.org", NOW - 60)
    with pytest.raises(SignInError, match="signed out"):
        admit(staff, CLAIMS, NOW, sign_out.ended(tmp_path))
    assert admit(staff, {**CLAIMS, "iat": NOW - 30}, NOW, sign_out.ended(tmp_path))
    sign_out.end(tmp_path, "sage@example.org", NOW - 100)  # an older one does not bring it back
    assert sign_out.ended(tmp_path) == {"sage@example.org": NOW - 60}


def test_a_broken_list_of_ended_sign_ins_lets_nobody_in(tmp_path) -> None:
    (tmp_path / sign_out.FILE).write_text("[1]")
    with pytest.raises(SignInError, match="cannot be read"):
        sign_out.ended(tmp_path)


def test_nobody_is_on_an_empty_list() -> None:
    assert not Staff(people={}).people
