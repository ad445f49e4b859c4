"""What the Data screen does to the program: one function per action, each ending in a line of text.

Every action asks `rights` first, which refuses (ForbiddenError, SignInError) where no role of the viewer holds it now.
What is written down names the person signed in, whatever was typed; only the person at the machine gives a name.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from latewood.dashboard.actions import following, rights
from latewood.dashboard.reads.rows import BuildRow
from latewood.dashboard.text.wording import count_of
from latewood.pipeline.access import Viewer
from latewood.pipeline.ingest import actions, joining
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.ingest.inputs import read_inputs
from latewood.pipeline.ingest.logs import build_notes, decisions
from latewood.pipeline.ingest.program import data_dir
from latewood.pipeline.pages.recruit.current import supersede_joined


@dataclass(frozen=True, slots=True, kw_only=True)
class Log:
    """The decisions file as it was at one moment."""

    made: Sequence[decisions.Decision]

    @property
    def count(self) -> int:
        """How many decisions there were: what an answer is given in knowledge of."""
        return len(self.made)

    def last(self, held_ids: Sequence[str], rule: str) -> decisions.Decision | None:
        """The last answer to what `rule` asks about any of these rows, built or not.

        A name given where another rule had held the row is none: it was built, and the row is held for this since.
        """
        last = decisions.last_on(list(self.made), held_ids)
        about = (
            {last.targets[one].get("rule", rule) for one in held_ids if one in last.targets}
            if last
            else set()
        )
        return last if rule in about else None


def log(viewer: Viewer) -> Log:
    """The decisions as they are now, with those that wait for a rebuild."""
    rights.held(viewer, "decision")
    return Log(made=decisions.read(data_dir() / "decisions.jsonl"))


def take_files(viewer: Viewer, files: Sequence[tuple[str, bytes]], who: str) -> list[str]:
    """Import uploaded files (name and content) without building; what became of each, as text.

    Raises FileUnreadableError or MappingError, and then nothing was kept.
    """
    viewer = rights.held(viewer, "import")
    with tempfile.TemporaryDirectory() as folder:
        paths = []
        for name, content in files:
            path = Path(folder) / Path(name).name
            path.write_bytes(content)
            paths.append(path)
        result = actions.land_files(data_dir(), paths, viewer.signs(who))
    following.soon()
    return [
        f"{one.file_name}: {one.kind}, {count_of(one.rows_in, 'row')}, {one.state}. {' '.join(one.notes)}"
        for one in result
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedReason:
    """Who answers and why; `seen` is the count of the log on which the answer was given."""

    who: str
    why: str
    seen: int | None = None


def answer(
    viewer: Viewer,
    targets: Sequence[str],
    action: str,
    athlete_id: str | None,
    signed: SignedReason,
) -> None:
    """Write a decision down without building.

    Raises DecisionError, also where somebody else has answered since.
    """
    viewer = rights.held(viewer, "decide")
    given = decisions.Answer(
        action=action, who=viewer.signs(signed.who), why=signed.why, argument=athlete_id, seen=signed.seen
    )
    actions.decide(data_dir(), list(targets), given, build_after=False)
    following.soon()


def correct(viewer: Viewer, held_id: str, value: str, signed: SignedReason) -> None:
    """Write down the right value of one held row without building; raises as `answer` does."""
    viewer = rights.held(viewer, "decide")
    given = decisions.Answer(
        action="mend", who=viewer.signs(signed.who), why=signed.why, value=value, seen=signed.seen
    )
    actions.decide(data_dir(), [held_id], given, build_after=False)
    following.soon()


def take_out(viewer: Viewer, import_id: str, who: str, why: str) -> None:
    """Withdraw an import without building; raises DecisionError."""
    viewer = rights.held(viewer, "withdraw")
    actions.withdraw(data_dir(), import_id, viewer.signs(who), why, build_after=False)
    following.soon()


def take_back(viewer: Viewer, decision_id: str, who: str, why: str, seen: int | None = None) -> None:
    """Take an answer or a withdrawal back without building; raises DecisionError."""
    right = "withdraw" if _is_withdrawal(viewer, decision_id) else "decide"
    viewer = rights.held(viewer, right)
    given = decisions.Answer(action="reopen", who=viewer.signs(who), why=why, seen=seen)
    actions.undo(data_dir(), decision_id, given, build_after=False)
    following.soon()


def look_at_join(viewer: Viewer, joined_id: str, into: str) -> joining.JoinPreview:
    """What two ids hold, before they are joined; raises DecisionError."""
    rights.held(viewer, "decide")
    return joining.preview(data_dir(), joined_id, into)


def join(viewer: Viewer, joined_id: str, into: str, signed: SignedReason) -> None:
    """Write down that an id is another's, without building; raises DecisionError."""
    viewer = rights.held(viewer, "decide")
    given = decisions.Answer(action="join", who=viewer.signs(signed.who), why=signed.why, seen=signed.seen)
    joining.join(data_dir(), joined_id, into, given, build_after=False)
    following.soon()


def _is_withdrawal(viewer: Viewer, decision_id: str) -> bool:
    return any(one.decision_id == decision_id and one.action == "withdraw" for one in log(viewer).made)


def rebuild(viewer: Viewer, progress: Callable[[str], None]) -> str:
    """Build and publish; what came of it, as text. Raises LatewoodError, and then the old build stays."""
    rights.held(viewer, "rebuild")
    done = build(data_dir(), progress)
    supersede_joined(data_dir())
    if done.unchanged:
        return "Nothing had changed: the published build is up to date."
    counts = f"{count_of(done.readings, 'reading')} of {count_of(done.athletes, 'athlete')}"
    return f"Published {counts} in {done.seconds:.0f} s."


def start_build(viewer: Viewer) -> bool:
    """Have the build that follows by itself start now; False where this server does not build by itself."""
    rights.held(viewer, "rebuild")
    following.soon(at_once=True)
    return following.follows()


def build_state(viewer: Viewer) -> tuple[str, float]:
    """What the build that follows does now, and for how many seconds it has been running."""
    rights.held(viewer, "rebuild")
    return following.state()


def why_not_built(viewer: Viewer) -> str:
    """Why the latest build failed; empty where the latest one ended well."""
    rights.held(viewer, "rebuild")
    failed = build_notes.failed_builds(data_dir())
    return failed[-1].reason if failed else ""


def is_behind(viewer: Viewer, published: BuildRow | None) -> bool:
    """Whether files, decisions or settings have changed since the published build."""
    rights.held(viewer, "rebuild")
    inputs = read_inputs(data_dir())
    if published is None:
        return bool(inputs.imports)
    return inputs.build_id != published.build_id
