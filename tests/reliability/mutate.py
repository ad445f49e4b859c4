"""Damages a file as devices, mail and spreadsheets do, and worse: seeded, so that every file can be made again."""

from __future__ import annotations

import io
import random
import zipfile
from collections.abc import Callable

NASTY = (
    *(
        "",
        " ",
        "nan",
        "NaN",
        "inf",
        "-inf",
        "1e309",
        "1e300",
        "-1e300",
        "1e-320",
        "0",
        "-0",
        "00",
        "9" * 40,
        "1,5",
        "1.5.2",
    ),
    *(
        "1e5",
        "0x1F",
        "½",
        "٣٤",
        "−5",
        "#REF!",
        "=1+1",
        "TRUE",
        "null",
        "N/A",
        "'",
        '"',
        '""',
        "\\",
        "%s",
        "{0}",
        "$x",
    ),
    *(
        "0000-00-00",
        "9999-12-31",
        "2033-02-30",
        "1/2/33",
        "31/12/2032",
        "2032-06-01T25:00",
        "12:00",
        "2032-06-05 7:30 PM",
    ),
    *(
        "2032-06-05T07:30:00+99:00",
        "10000-01-01",
        "-5",
        "3.7",
        "1e2",
        "2147483648",
        "99999999999999999999",
        "T1:3:x",
    ),
    *(
        "a" * 300,
        "é" * 80,
        "\u202e",
        "\u0000x"[1:],
        "👟",
        "\ufeff",
        "a\u2028b",
        "x'; drop table reading; --",
        "../../etc",
    ),
)
INSERTS = (b'"', b'""', b"\0", b",", b";", b"\t", b"|", b"\r", b"\n", b"\r\n", b"\xff", b"\xfe\xff", b"\xef\xbb\xbf",
           b"\x1a", b"\x80", "é".encode(), "👟".encode(), b"\x0b", b"\x0c", b"\xc2\x85")  # fmt: skip
Change = Callable[[random.Random, bytes], bytes]


def _flip(rng: random.Random, content: bytes) -> bytes:
    changed = bytearray(content)
    for _ in range(rng.choice((1, 1, 2, 8))):
        changed[rng.randrange(len(changed))] ^= 1 << rng.randrange(8)
    return bytes(changed)


def _cut_short(rng: random.Random, content: bytes) -> bytes:
    return content[: rng.randrange(len(content) + 1)]


def _drop_range(rng: random.Random, content: bytes) -> bytes:
    start = rng.randrange(len(content))
    return content[:start] + content[start + rng.choice((1, 2, 20, 400)) :]


def _double_range(rng: random.Random, content: bytes) -> bytes:
    start = rng.randrange(len(content))
    part = content[start : start + rng.choice((1, 10, 300))]
    return content[:start] + part + content[start:]


def _insert(rng: random.Random, content: bytes) -> bytes:
    start = rng.randrange(len(content) + 1)
    return content[:start] + rng.choice(INSERTS) * rng.choice((1, 1, 3)) + content[start:]


def _other_code(rng: random.Random, content: bytes) -> bytes:
    text = content.decode("utf-8", errors="replace")
    codec = rng.choice(("utf-16", "utf-16-le", "utf-8-sig", "windows-1252", "utf-32", "shift_jis"))
    return text.encode(codec, errors="replace")


def _other_delimiter(rng: random.Random, content: bytes) -> bytes:
    return content.replace(b",", rng.choice((b";", b"\t", b"|", b", ", b" ")), rng.choice((1, 10, -1)))


def _other_ends(rng: random.Random, content: bytes) -> bytes:
    return content.replace(b"\n", rng.choice((b"\r\n", b"\r", b"\n\n", b"\r\r\n")), rng.choice((3, -1)))


def _cells(rng: random.Random, content: bytes, new: Callable[[list[bytes]], bytes]) -> bytes:
    lines = content.split(b"\n")
    at = rng.randrange(len(lines))
    cells = lines[at].split(b",")
    cells[rng.randrange(len(cells))] = new(cells)
    lines[at] = b",".join(cells)
    return b"\n".join(lines)


def _nasty_cells(rng: random.Random, content: bytes) -> bytes:
    for _ in range(rng.choice((1, 3, 10))):
        content = _cells(rng, content, lambda _: rng.choice(NASTY).encode())
    return content


def _huge_cell(rng: random.Random, content: bytes) -> bytes:
    return _cells(
        rng, content, lambda _: rng.choice((b"x", b"9", b"a b ")) * rng.choice((5_000, 60_000, 200_000))
    )


def _moved_cell(rng: random.Random, content: bytes) -> bytes:
    return _cells(rng, content, rng.choice)


def _header(rng: random.Random, content: bytes) -> bytes:
    head, end, rest = content.partition(b"\n")
    cells = head.split(b",")
    at, other = rng.randrange(len(cells)), rng.choice(cells)
    cells[at] = rng.choice((
        other,
        other.upper(),
        b" " + other.title() + b" ",
        other.replace(b"_", b" "),
        b"",
        b"note",
    ))
    return b",".join(cells) + end + rest


def _column_added(rng: random.Random, content: bytes) -> bytes:
    head, _, rest = content.partition(b"\n")
    name = rng.choice(head.rstrip(b"\r").split(b","))
    name = rng.choice((name, name.upper(), b"extra", b""))
    value = rng.choice((b"", b"1", b"x"))
    lines = [line + b"," + value if line else line for line in rest.split(b"\n")]
    return head.rstrip(b"\r") + b"," + name + b"\n" + b"\n".join(lines)


def _lines(rng: random.Random, content: bytes) -> bytes:
    lines = content.split(b"\n")
    action = rng.randrange(6)
    at = rng.randrange(len(lines))
    if action == 0:
        rng.shuffle(lines)
    elif action == 1:
        lines += lines[1:]
    elif action == 2:
        lines.insert(at, rng.choice((b"", b",,,,,", b"Total,,,", b"# note")))
    elif action == 3:
        lines[at] += rng.choice((b",", b",x", b",,,,"))
    elif action == 4:
        lines[at] = lines[at].rpartition(b",")[0]
    else:
        del lines[at]
    return b"\n".join(lines)


TEXT_CHANGES: tuple[Change, ...] = (
    _flip, _cut_short, _drop_range, _double_range, _insert, _other_code, _other_delimiter, _other_ends,
    _nasty_cells, _nasty_cells, _nasty_cells, _huge_cell, _moved_cell, _header, _column_added, _lines, _lines,
)  # fmt: skip


def _inside_workbook(rng: random.Random, content: bytes) -> bytes:
    """Change one part of the workbook and pack it again, so that the damage is found only when it is read."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as old:
            parts = {name: old.read(name) for name in old.namelist()}
    except (zipfile.BadZipFile, ValueError, OSError, EOFError):
        return content
    chosen = rng.choice([name for name in parts if parts[name]])
    change = rng.choice((
        _flip,
        _cut_short,
        _drop_range,
        _double_range,
        _insert,
        _cell_of_sheet,
        _cell_of_sheet,
    ))
    parts[chosen] = change(rng, parts[chosen])
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name, part in parts.items():
            if rng.random() > 0.01:
                new.writestr(name, part)
    return out.getvalue()


def _cell_of_sheet(rng: random.Random, content: bytes) -> bytes:
    start = content.find(b"<v>", rng.randrange(len(content)))
    if start < 0:
        return content
    end = content.find(b"</v>", start)
    return content[: start + 3] + rng.choice(NASTY).encode() + content[end:]


BOOK_CHANGES: tuple[Change, ...] = (_flip, _cut_short, _drop_range, _insert, *(_inside_workbook,) * 4)


def damaged(rng: random.Random, name: str, content: bytes) -> tuple[str, bytes]:
    """The file with one to three changes, now and then under another ending."""
    changes = BOOK_CHANGES if name.endswith(".xlsx") else TEXT_CHANGES
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        if content:
            content = rng.choice(changes)(rng, content)
    if rng.random() < 0.02:
        stem = name.rpartition(".")[0]
        name = stem + rng.choice((".xlsx", ".csv", ".txt", ".xls", ".ods"))
    return name, content
