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
        *_text("name", title),
        *_text("kind", plan.kind),
        *_text("layout", plan.layout if plan.layout == "wide" else ""),
        *([] if plan.constant_day else _text("headers", sheet.table.headers)),
        *_text("sheet", options.sheet),
        *_text("encoding", options.encoding),
        *_text("delimiter", options.delimiter),
        *([f"skip_lines = {options.skip_lines}"] if options.skip_lines else []),
        "loose = true",
        *([f"header_lines = {options.header_lines}"] if options.header_lines > 1 else []),
        *_text("footers", list(options.footers)),
        *_text("decimal", plan.decimal if plan.decimal != "." else ""),
        *_text("date_format", plan.date_format),
        *_text("date_from", "given" if plan.constant_day else form.date_from),
        *_text("day", plan.constant_day),
        *_text("stamp_zone", form.stamp_zone),
        *_text("date_forms", list(form.date_forms)),
        *_text("blank", list(form.blank)),
        *_text("thousands", form.thousands),
        *_text("athlete_parts", list(form.athlete_parts)),
        *_text("make_ids", form.make_ids),
        *_table("columns", plan.fields),
        *_table("conditions", plan.conditions),
        *_table("condition_columns", {c.target: c.header for c in plan.columns if c.role == "condition"}),
        *_table("measure_names", plan.measure_names),
        *_table("units", plan.units),
        *_table("where", {column: list(texts) for column, texts in form.where}),
        *_blocks(plan.columns if plan.layout == "wide" else ()),
    ]
    return "\n".join(lines) + "\n"


def _toml(value: object) -> str:
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _text(key: str, value: str | Sequence[str]) -> list[str]:
    return [f"{key} = {_toml(value)}"] if value else []


def _table(key: str, entries: Mapping[str, object]) -> list[str]:
    if not entries:
        return []
    return ["", f"[{key}]", *(f"{_toml(k)} = {_toml(v)}" for k, v in entries.items())]


def _blocks(columns: Sequence[ColumnLook]) -> list[str]:
    """One [[values]] block for each measure, unit and conditions; its columns are trials, by number, then place."""
    blocks: dict[tuple[object, ...], list[ColumnLook]] = {}
    for column in columns:
        if column.role == "measure":
            key = (column.target, column.unit, column.conditions, column.written, column.scale)
            blocks.setdefault(key, []).append(column)
    lines = []
    for members in blocks.values():
        first = members[0]
        ordered = [c.header for c in sorted(members, key=lambda c: c.trial)]
        lines += ["", "[[values]]", f"measure = {_toml(first.target)}", f"columns = {_toml(ordered)}"]
        lines += _text("unit", first.unit)
        lines += _text("written", first.written if first.written != "number" else "")
        lines += [f"scale = {first.scale}"] if first.scale != "1" else []
        if first.conditions:
            inner = ", ".join(f"{_toml(k)} = {_toml(v)}" for k, v in first.conditions)
            lines.append(f"conditions = {{ {inner} }}")
    return lines
