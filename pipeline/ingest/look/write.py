"""Writes a plan down as a mapping: the same TOML that a person would write."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import PurePath
from typing import Final

from latewood.pipeline.ingest.look.proposal import ColumnLook, ColumnPlan, Sheet

PROPOSED: Final = "# Proposed by a look at the file, and accepted."


def mapping_text(name: str, sheet: Sheet, plan: ColumnPlan) -> str:
    """The mapping of a plan in TOML. Its headers let the next file of this shape find it, unless a day was typed in."""
    options, form = sheet.options, plan.form
    title = PurePath(name).stem + (f", {options.sheet}" if options.sheet else "")
    lines = [
        PROPOSED,
        *text_lines("name", title),
        *text_lines("kind", plan.kind),
        *text_lines("layout", plan.layout if plan.layout == "wide" else ""),
        *([] if _of_this_file(plan) else text_lines("headers", sheet.table.headers)),
        *text_lines("sheet", options.sheet),
        *text_lines("encoding", options.encoding),
        *text_lines("delimiter", options.delimiter),
        *([f"skip_lines = {options.skip_lines}"] if options.skip_lines else []),
        "loose = true",
        *([f"part = {options.part}"] if options.part else []),
        *(["turned = true"] if options.turned else []),
        *([f"header_lines = {options.header_lines}"] if options.header_lines > 1 else []),
        *text_lines("footers", list(options.footers)),
        *_form_lines(plan),
        *table_lines("columns", plan.fields),
        *table_lines("conditions", plan.conditions),
        *table_lines(
            "condition_columns", {c.target: c.header for c in plan.columns if c.role == "condition"}
        ),
        *table_lines("measure_names", plan.measure_names),
        *table_lines("units", plan.units),
        *table_lines("where", {column: list(texts) for column, texts in form.where}),
        *_blocks(plan.columns if plan.layout == "wide" else ()),
    ]
    return "\n".join(lines) + "\n"


def _form_lines(plan: ColumnPlan) -> list[str]:
    """How days, names and cells are read."""
    form = plan.form
    return [
        *text_lines("decimal", plan.decimal if plan.decimal != "." else ""),
        *text_lines("date_format", plan.date_format),
        *text_lines("date_from", "given" if plan.constant_day else form.date_from),
        *text_lines("day", plan.constant_day),
        *text_lines("stamp_zone", form.stamp_zone),
        *text_lines("date_forms", list(form.date_forms)),
        *text_lines("date_column", form.date_column),
        *([f"year = {form.year}"] if form.year else []),
        *text_lines("fill_down", list(form.fill_down)),
        *text_lines("athlete_from", form.athlete_from),
        *text_lines("athlete", form.athlete),
        *text_lines("written", form.written if form.written != "number" else ""),
        *text_lines("blank", list(form.blank)),
        *text_lines("thousands", form.thousands),
        *text_lines("athlete_parts", list(form.athlete_parts)),
        *text_lines("make_ids", form.make_ids),
    ]


def _of_this_file(plan: ColumnPlan) -> bool:
    """Whether something was typed in that holds for one file alone: a day, a year, whose it is."""
    return bool(plan.constant_day or plan.form.year or plan.form.athlete)


def _toml(value: object) -> str:
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def text_lines(key: str, value: str | Sequence[str]) -> list[str]:
    """A key with its text or list; nothing where it is empty."""
    return [f"{key} = {_toml(value)}"] if value else []


def table_lines(key: str, entries: Mapping[str, object]) -> list[str]:
    """A table with its entries; nothing where there are none."""
    if not entries:
        return []
    return ["", f"[{key}]", *(f"{_toml(k)} = {_toml(v)}" for k, v in entries.items())]


def _blocks(columns: Sequence[ColumnLook]) -> list[str]:
    """One [[values]] block for each measure, unit and conditions; its columns are trials, by number, then place."""
    blocks: dict[tuple[object, ...], list[ColumnLook]] = {}
    for column in columns:
        if column.role == "measure":
            own = (column.day, column.day_column, column.athlete_column)
            key = (
                column.target,
                column.unit,
                column.conditions,
                column.written,
                column.scale,
                column.inches,
                own,
            )
            blocks.setdefault(key, []).append(column)
    lines = []
    for members in blocks.values():
        first = members[0]
        ordered = [c.header for c in sorted(members, key=lambda c: c.trial)]
        lines += ["", "[[values]]", f"measure = {_toml(first.target)}", f"columns = {_toml(ordered)}"]
        lines += text_lines("unit", first.unit)
        lines += text_lines("written", first.written if first.written != "number" else "")
        for key_, value in (
            ("inches", first.inches),
            ("day", first.day),
            ("day_column", first.day_column),
            ("athlete_column", first.athlete_column),
        ):
            lines += text_lines(key_, value)
        lines += [f"scale = {first.scale}"] if first.scale != "1" else []
        if first.conditions:
            inner = ", ".join(f"{_toml(k)} = {_toml(v)}" for k, v in first.conditions)
            lines.append(f"conditions = {{ {inner} }}")
    return lines
