"""A receipt of the logs, kept outside the folder: later it shows whether all that stood then still stands."""

from __future__ import annotations

import json
import re
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Final

from latewood.pipeline.errors import AuditError
from latewood.pipeline.ingest.logs import audit, content
from latewood.pipeline.ingest.logs.audit_key import is_keyed, key_of, keyed
from latewood.pipeline.ingest.program import load_program

FORM: Final = "latewood-receipt/1"
FEWEST: Final = 16  # digits of a head that are typed from paper
_TYPED = re.compile(rf"(\d{{1,9}})[:\s]+([0-9a-f]{{{FEWEST},64}})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """How far the logs reached at a moment; `code` is that of all else under the key, '' where there was none."""

    form: str
    program: str
    at: str
    lines: int
    head: str
    content_lines: int
    content_head: str
    code: str

    @property
    def typed(self) -> str:
        """What is written down on paper, and typed to check."""
        return f"{self.lines}:{self.head[:FEWEST]}"


def make(root: Path) -> Receipt:
    """The receipt of a folder as it is now. Raises AuditError where the log is not whole."""
    state = audit.check(root)
    if not state.whole or state.n == 0:
        raise AuditError(
            f"no receipt: {'; '.join(state.problems) or 'the log is empty'}; see `latewood audit`"
        )
    program = load_program(root)
    content_lines, content_head = content.end(root)
    bare = Receipt(
        form=FORM, program=program.name, at=program.now().isoformat(), lines=state.n, head=state.head,
        content_lines=content_lines, content_head=content_head, code="",
    )  # fmt: skip
    key = key_of(root)
    return Receipt(**{**asdict(bare), "code": keyed(key, _text(bare)) if key else ""})


def as_text(receipt: Receipt) -> str:
    """The receipt as a file."""
    return json.dumps(asdict(receipt), indent=1, ensure_ascii=False) + "\n"


def problems(root: Path, given: str) -> tuple[str, ...]:
    """What does not fit a receipt, given as the text of its file or as typed from paper; nothing where all stands.

    Raises AuditError where it cannot be read.
    """
    receipt = _read(given)
    result = list(audit.check(root).problems)
    line = next((one for one in audit.lines(root) if one.number == receipt.lines), None)
    if line is None:
        result.append(f"the log has no line {receipt.lines}, which stood there on the day of the receipt")
    elif not line.hash.startswith(receipt.head):
        result.append(
            f"line {receipt.lines} is another one than on the day of the receipt: the log was made anew"
        )
    key = key_of(root)
    if key and receipt.form and not is_keyed(key, _text(receipt), receipt.code):
        result.append("the receipt was not made with this key, or was changed since")
    if receipt.content_lines:
        result += _content_problems(root, receipt)
    return tuple(result)


def _content_problems(root: Path, receipt: Receipt) -> list[str]:
    """Whether the content log still holds what it held; an erasure since begins it anew, which the audit log says."""
    if content.chain_at(root, receipt.content_lines) == receipt.content_head:
        return []
    since = [one for one in audit.lines(root) if one.number > receipt.lines]
    if any(one.event == "erasure" for one in since):
        return []
    return [f"content.jsonl, line {receipt.content_lines}: is another one than on the day of the receipt"]


def _read(given: str) -> Receipt:
    typed = _TYPED.fullmatch(given.strip().lower())
    if typed is not None:
        return Receipt(
            form="",
            program="",
            at="",
            lines=int(typed[1]),
            head=typed[2],
            content_lines=0,
            content_head="",
            code="",
        )
    try:
        result = Receipt(**json.loads(given))
        if result.form != FORM or type(result.lines) is not int or type(result.content_lines) is not int:
            raise TypeError("it is of another form")
        if len(result.head) != 64:
            raise ValueError("its head is cut")
        return result
    except (ValueError, TypeError) as error:
        raise AuditError(
            f"the receipt cannot be read ({error}); give its file, or number and {FEWEST} digits as printed"
        ) from error


def _text(receipt: Receipt) -> str:
    body = {key: value for key, value in asdict(receipt).items() if key != "code"}
    return json.dumps(body, ensure_ascii=False, sort_keys=True)
