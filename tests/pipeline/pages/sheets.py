"""The sheet of the first athlete of the test camp, as several tests of the page make it."""

from __future__ import annotations

from dataclasses import replace

from latewood.pipeline.pages.record import Record
from latewood.pipeline.pages.recruit.data import with_hash
from latewood.pipeline.pages.recruit.make import Choice, Scope, Seal, make_summary
from latewood.pipeline.pages.recruit.model import Summary
from latewood.pipeline.pages.recruit.standing import make_pool
from tests.pipeline.pages.conftest import GIVEN


def made(record: Record, choice: Choice | None = None, **consent: object) -> Summary:
    """The sheet under a consent with some fields changed."""
    given, pool = replace(GIVEN, **consent), make_pool(record)
    return with_hash(
        make_summary(
            record,
            pool,
            "T1",
            Scope(consent=given, choice=choice or Choice()),
            Seal(serial="s", fingerprint="ab" * 32),
        )
    )
