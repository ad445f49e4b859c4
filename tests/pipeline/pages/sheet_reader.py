"""A person who has only the sheet: finds the measures that stand large by the words beside them, and nothing else."""

from __future__ import annotations

import re
from dataclasses import dataclass

_CHANGE = r"not given|no change|[+\u2212]?[\d.]+ ?\S*?(?: faster| slower)?"
_HEAD = re.compile(
    r"Method: (?P<method>.+?) Best value (?P<best>[\d.]+(?: \S+)?) best of (?P<trials>\d+) trials?, (?P<sessions>\d+) "
    r"sessions? (?P<best_on>\d+ \w{3} \d{4}).*? Typical value, latest (?P<typical>[\d.]+(?: \S+)?) "
    r"± (?P<error>[\d.]+) typical error .*?(?P<typical_on>\d+ \w{3} \d{4}).*? "
    rf"Change over the stay (?P<change>{_CHANGE}) (?P<more>.+?) "
    r"Standing here (?P<standing>not given|\d+(?:st|nd|rd|th)) (?P<group>.+?(?:needed|interval \d+ to \d+|and sport))"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What was read about one measure, as printed."""

    method: str
    best: str
    best_on: str
    trials: int
    sessions: int
    typical: str
    typical_on: str
    error: float
    change: str
    change_more: str
    standing: str
    group: str


def read_heads(text: str) -> dict[str, Answer]:
    """The measures that stand large on a sheet by name, from its text as selected in a PDF or shown on a phone."""
    plain = " ".join(text.split())
    answers: dict[str, Answer] = {}
    for one in _HEAD.finditer(plain):
        name = re.search(r"([A-Z0-9][^.()]*)$", plain[: one.start()].rstrip())
        assert name is not None
        answers[name[1].strip()] = Answer(
            method=one["method"], best=one["best"], best_on=one["best_on"], trials=int(one["trials"]),
            sessions=int(one["sessions"]), typical=one["typical"], typical_on=one["typical_on"],
            error=float(one["error"]), change=one["change"], change_more=one["more"],
            standing=one["standing"], group=one["group"],
        )  # fmt: skip
    return answers


def answer_for(answers: dict[str, Answer], label: str) -> Answer:
    """The answer about one measure; the name printed before the first may follow other words."""
    return next(answer for name, answer in answers.items() if name.endswith(label))
