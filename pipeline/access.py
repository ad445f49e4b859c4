"""Who may see and do what: every role declared once, and the person who looks."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

from latewood.pipeline.errors import ForbiddenError, SignInError

# What a role may hold; screens are declared in dashboard/screens/registry.py. Kinds of data are what each read of
# dashboard/reads is declared as.
KINDS = (
    "program",
    "roster",
    "cohort",
    "athlete",
    "observation",
    "plan",
    "entry",
    "held",
    "import",
    "decision",
)
ACTIONS = (
    "import", "decide", "withdraw", "rebuild", "set plan", "enter", "set focus", "note video",
    "write case",
    "print case", "family page", "consent", "export",
    "erase", "audit",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Role:
    """One role: the screens it opens, the kinds of data it reads, what it may do, and whether camps can bound it."""

    key: str
    title: str
    screens: tuple[str, ...]
    reads: tuple[str, ...]
    actions: tuple[str, ...] = ()
    by_camp: bool = True

    @property
    def rights(self) -> frozenset[str]:
        """Everything it holds, kinds of data and actions alike."""
        return frozenset((*self.reads, *self.actions))


_EVERYBODY = ("program", "roster")
# Movement observations go to both coaches: what was seen in a throw or a swing decides which drills the one sets
# and which lifts the other allows. A director needs results, not how a child was rated on a day.
# Plans are set by the strength coach alone; both coaches weigh in, test and rebuild, so that what they type is seen.
# Held rows and files belong to no camp before they are settled, so a steward cannot be bound to camps.
ROLES = {
    role.key: role
    for role in (
        Role(
            key="director",
            title="director",
            screens=(
                "monday",
                "cohorts",
                "camp_review",
                "behind",
                "athlete",
                "case",
                "compare",
                "plans",
                "plan",
                "summaries",
                "glossary",
            ),
            reads=(*_EVERYBODY, "cohort", "athlete", "plan"),
            actions=("print case", "family page", "consent", "export", "erase", "audit"),
        ),
        Role(
            key="strength_coach",
            title="strength coach",
            screens=(
                "monday",
                "plans",
                "plan",
                "new_plan",
                "weighin",
                "athlete",
                "case",
                "compare",
                "glossary",
            ),
            reads=(*_EVERYBODY, "athlete", "plan", "entry", "observation"),
            actions=("set plan", "enter", "rebuild", "note video", "write case", "print case"),
        ),
        Role(
            key="performance_coach",
            title="performance coach",
            screens=("monday", "athlete", "case", "compare", "cohorts", "behind", "weighin", "glossary"),
            reads=(*_EVERYBODY, "cohort", "athlete", "plan", "entry", "observation"),
            actions=(
                "enter",
                "rebuild",
                "set focus",
                "note video",
                "write case",
                "print case",
                "family page",
            ),
        ),
        Role(
            key="data_steward",
            title="data steward",
            screens=("monday", "data", "glossary"),
            reads=(*_EVERYBODY, "held", "import", "decision"),
            actions=("import", "decide", "withdraw", "rebuild"),
            by_camp=False,
        ),
    )
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Grant:
    """One role of one person; `camps` is None where it holds for every camp."""

    role: Role
    camps: frozenset[str] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Viewer:
    """The person who looks, with the roles held. `email` is '' for the person at the machine, who has no sign-in.

    `again` asks who looks once more, from the list of people and the sign-in as they are then: a viewer kept by a
    page that stays open says nothing about what they may do now. Whoever comes through the door has one.
    """

    name: str
    email: str
    grants: tuple[Grant, ...]
    again: Callable[[], Viewer] | None = field(default=None, compare=False, repr=False)

    @property
    def signed_in(self) -> bool:
        """Whether this person came through a sign-in."""
        return bool(self.email)

    @property
    def screens(self) -> tuple[str, ...]:
        """The screens that any role opens, in the order of the first role that has them."""
        return tuple(dict.fromkeys(screen for grant in self.grants for screen in grant.role.screens))

    def holds(self, right: str) -> bool:
        """Whether any role holds this kind of data or this action, for whatever camps."""
        return any(right in grant.role.rights for grant in self.grants)

    def camps_for(self, right: str) -> frozenset[str] | None:
        """The camps in which the right holds; None for all of them.

        Raises ForbiddenError where no role holds it.
        """
        held = [grant.camps for grant in self.grants if right in grant.role.rights]
        if not held:
            raise ForbiddenError(_refusal(self, right))
        if any(camps is None for camps in held):
            return None
        return frozenset[str]().union(*(camps for camps in held if camps is not None))

    def now(self) -> Viewer:
        """The same person as the door would let them in at this moment.

        Raises SignInError where they may no longer look, or somebody else does by now.
        """
        if self.again is None:
            return self
        result = self.again()
        if result.email != self.email:
            raise SignInError("somebody else has signed in here meanwhile; reload the page")
        return result

    def only(self, role: str) -> Viewer:
        """The same person with one of the roles only: to look at the screens as that role sees them."""
        return replace(self, grants=tuple(grant for grant in self.grants if grant.role.key == role))

    def signs(self, typed: str) -> str:
        """The name to write beside an action: the one signed in with, whatever was typed."""
        return f"{self.name} <{self.email}>" if self.signed_in else typed.strip()


AT_THE_MACHINE = Viewer(name="", email="", grants=tuple(Grant(role=role) for role in ROLES.values()))

_WORDS = {
    "cohort": "what camps gained",
    "athlete": "results of single athletes",
    "observation": "movement observations",
    "plan": "weight plans",
    "held": "held rows",
    "import": "imports",
    "decision": "decisions of the data steward",
    "decide": "answers to held rows",
    "withdraw": "withdrawals of imports",
    "rebuild": "rebuilds",
    "entry": "what is typed at a weigh-in or test",
    "set plan": "changes of weight plans",
    "enter": "typed weigh-ins and tests",
    "set focus": "the focus of an athlete",
    "note video": "the films of trials",
    "write case": "a coach's own words on a case",
    "print case": "printed cases",
    "family page": "pages for athlete and family",
    "consent": "consent",
    "export": "exports",
    "erase": "erasures",
    "audit": "the audit log",
}


def _refusal(viewer: Viewer, right: str) -> str:
    needed = titles(role for role in ROLES.values() if right in role.rights) or "nobody"
    held = titles(grant.role for grant in viewer.grants) or "nothing"
    return f"{_WORDS.get(right, right)}: for the {needed}; your role is {held}. Ask the director to change it"


def titles(roles: Iterable[Role]) -> str:
    """The names of roles in one line."""
    return " or ".join(dict.fromkeys(role.title for role in roles))
