"""Sign-ins that have ended: per e-mail the time up to which none counts any more, whatever cookie is shown."""

from __future__ import annotations

import json
from pathlib import Path

from latewood.pipeline import durable
from latewood.pipeline.errors import SignInError

FILE = "signed_out.json"


def ended(root: Path) -> dict[str, float]:
    """Per e-mail in lower case, the latest sign-in (seconds since 1970) that was ended.

    Raises SignInError where the file cannot be read: then nobody is let in.
    """
    path = root / FILE
    if not path.exists():
        return {}
    try:
        return {str(k): float(v) for k, v in json.loads(path.read_text(encoding="utf-8")).items()}
    except (OSError, ValueError, TypeError, AttributeError) as error:
        raise SignInError(f"{FILE}: cannot be read ({error}); correct or remove it on the server") from error


def end(root: Path, email: str, issued: float) -> None:
    """End the sign-in made at `issued` (seconds since 1970) and every earlier one of this e-mail."""
    path = root / FILE
    with durable.locked(root / ".signed_out.lock"):
        known = ended(root)
        known[email.lower()] = max(issued, known.get(email.lower(), 0.0))
        durable.write_atomically(path, (json.dumps(known, indent=1, sort_keys=True) + "\n").encode())
