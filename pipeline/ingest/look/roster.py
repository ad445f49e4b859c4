"""Takes a table for a roster: names, birth dates and what else it holds of players; ids are made where none are."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from latewood.pipeline.catalogue.lookup import plain
from latewood.pipeline.ingest.files.mapping import SheetForm
from latewood.pipeline.ingest.look import columns as col
from latewood.pipeline.ingest.look.cells import days_of
from latewood.pipeline.ingest.look.proposal import LEFT, SURE, ColumnLook, ColumnPlan
from latewood.pipeline.ingest.look.when import column_day
from latewood.pipeline.ingest.look.words import ROSTER_WORDS
from latewood.pipeline.warehouse.lookups import plain_name

_MARKS = ("birth_date", "sex", "graduation_year", "positions", "bats", "throws")


def _made_notes(texts: Mapping[str, Sequence[str]], parts: Sequence[str]) -> tuple[str, ...]:
    """A note on the ids that are made, and one for each name that stands more than once."""
    names = [" ".join(row) for row in zip(*(texts[part] for part in parts), strict=True)]
    known: dict[str, list[str]] = {}
    for name in filter(None, names):
        known.setdefault(plain_name(name), []).append(name)
    made = "No ids in the file: each athlete gets one made from the name, and keeps it."
    twice = tuple(
        f"{same[0]!r} stands {len(same)} times: only the first row can get an id, the others are held. Where these "
        "are different athletes, add a column of ids."
        for same in known.values()
        if len(same) > 1
    )
    return (made, *twice)


def plan_roster(texts: Mapping[str, Sequence[str]], look: col.Look) -> ColumnPlan | None:
    """Return how a roster would be read; None where the table is none."""
    parts = col.split_names(texts)
    fields: dict[str, str] = {}
    for key, words in ROSTER_WORDS.items():
        names = {plain(word) for word in words.split(",")}
        header = next((h for h in texts if plain(h) in names and h not in fields.values()), None)
        if header is not None:
            fields[key] = header
    if not (parts or "name" in fields) or not set(fields) & set(_MARKS):
        return None
    looks = [
        ColumnLook(header=h, target=key, certainty=SURE, reason="by its header") for key, h in fields.items()
    ]
    looks += [
        ColumnLook(header=h, target="name", certainty=SURE, reason="first and last name") for h in parts
    ]
    date_form = ""
    forms: tuple[str, ...] = ()
    born = fields.get("birth_date", "")
    if born and (days := days_of(texts[born])):
        day = column_day(born, days, texts, look)
        date_form, forms = day.form, day.forms
    named = parts or (fields["name"],)
    if parts:
        fields["name"] = "athlete"
    used = {c.header for c in looks}
    looks += [
        ColumnLook(header=h, target="", certainty=LEFT, reason="not needed", role="none")
        for h in texts
        if h not in used
    ]
    made = "athlete_id" not in fields
    notes = _made_notes(texts, named) if made else ()
    return ColumnPlan(
        kind="roster", layout="long", columns=tuple(looks), questions=tuple(look.questions), fields=fields,
        form=SheetForm(
            athlete_parts=parts, date_forms=forms, date_column=born if forms else "",
            make_ids=fields["name"] if made else "",
        ),
        date_format=date_form, conditions={}, measure_names={}, units={}, notes=notes,
    )  # fmt: skip
