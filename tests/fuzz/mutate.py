"""Spoilt copies of good files, by seed: bytes, words and values changed, lost, moved, doubled."""

from __future__ import annotations

import io
import json
import re
import zipfile
from collections.abc import Callable
from random import Random
from typing import Any

# What people, spreadsheets and broken disks put where a figure or a word was.
NASTY = (
    *("", " ", "0", "-1", "-0", "1e309", "-1e309", "1e-320", "nan", "NaN", "inf", "-inf"),
    *("9" * 40, "0.1", "1,5", "1.234,5", "1_000", "0x10", "007", "½", "٣", "１２"),
    *(
        "true",
        "false",
        "null",
        "None",
        "[]",
        "{}",
        "[[1]]",
        '"',
        "'",
        "'''",
        '"""',
        "\\",
        "\\u0000",
    ),
    *("=1+1", '=HYPERLINK("x")', "@SUM(A1)", "+1", "-", "#REF!", "#N/A", "<script>", "&amp;"),
    *("../../up", "/", "C" + ":\\nul", "a" * 3000, "é", "\u202e", "\ufeff", "\0"),
    *("12 kg", "12 km", "-5 °C", "100 %", "5 kWh", "1e400 kg", "3 lb", "2026-13-45", "2026-02-30"),
    *("\n", "\r", "\r\n", "\t", ";", ",,,,", "#", "[donor]", "[[bays]]", "format = 1"),
)
_WORD = re.compile(rb"[A-Za-z_][A-Za-z0-9_-]+|-?\d+(?:\.\d+)?")


def spoil_text(data: bytes, random: Random) -> bytes:
    """One to four changes to a text file."""
    for _ in range(random.choice((1, 1, 1, 2, 4))):
        data = random.choice(
            (_word, _word, _word, _line_lost, _line_doubled, _lines_swapped, _slice, _byte, _cut)
        )(data, random)
    return data


def random_file(_: bytes, random: Random) -> bytes:
    """Nothing of the good file: bytes, words in no order, deep nesting, another kind's head."""
    how = random.randrange(5)
    if how == 0:
        return random.randbytes(random.choice((0, 1, 40, 4_000)))
    if how == 1:
        parts = [random.choice((*NASTY, ",", "=", "\n", '"', "[", "]")) for _ in range(400)]
        return "".join(parts).encode()
    if how == 2:
        opening, closing = random.choice(("[]", "{}", "()"))
        depth = random.choice((50, 3_000, 100_000))
        return (random.choice(("", "x = ", '{"a":')) + opening * depth + closing * depth).encode()
    if how == 3:
        head = random.choice(
            (b"PK\x03\x04", b"\x1f\x8b", b"%PDF-1.7", b"\xff\xfe", b"\xef\xbb\xbf")
        )
        return head + random.randbytes(random.choice((0, 300)))
    rows = [";".join(random.choice(NASTY) for _ in range(random.randrange(9))) for _ in range(60)]
    return random.choice(("\n", "\r\n", "\r")).join(rows).encode(random.choice(("utf-8", "utf-16")))


def spoil_json(data: bytes, random: Random) -> bytes:
    """One to three values of a JSON file replaced, lost or doubled; sometimes as text."""
    if random.random() < 0.2:
        return spoil_text(data, random)
    tree = json.loads(data)
    for _ in range(random.choice((1, 1, 2, 3))):
        _change_value(tree, random)
    return json.dumps(tree).encode()


def spoil_zip(data: bytes, random: Random) -> bytes:
    """A workbook with one member spoilt, lost or renamed, or its bytes damaged."""
    if random.random() < 0.15:
        return random.choice((_slice, _byte, _cut))(data, random)
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(out, "w") as target:
        names = source.namelist()
        chosen = random.choice(names)
        how = random.choice(("spoil", "spoil", "spoil", "spoil", "lose", "rename"))
        for name in names:
            content = source.read(name)
            if name == chosen:
                if how == "lose":
                    continue
                if how == "rename":
                    name = "xl/other.xml"
                else:
                    content = spoil_text(content, random)
            target.writestr(name, content)
    return out.getvalue()


def with_members(data: bytes, change: Callable[[bytes], bytes]) -> bytes:
    """A workbook with every sheet changed so."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(out, "w") as target:
        for name in source.namelist():
            content = source.read(name)
            target.writestr(name, change(content) if "/worksheets/sheet" in name else content)
    return out.getvalue()


def _change_value(tree: Any, random: Random) -> None:
    holder, key = tree, None
    while isinstance(holder, dict | list) and holder:
        key = (
            random.choice(list(holder))
            if isinstance(holder, dict)
            else random.randrange(len(holder))
        )
        below = holder[key]
        if not isinstance(below, dict | list) or not below or random.random() < 0.12:
            break
        holder = below
    if key is None:
        return
    if random.random() < 0.25:
        del holder[key]
    elif isinstance(holder, list) and random.random() < 0.25:
        holder.append(holder[key])
    elif isinstance(holder[key], int | float) and random.random() < 0.5:
        holder[key] = random.choice((0, -1, 1, 10**30, 0.5, -0.0, 1e300, holder[key] + 1))
    else:
        holder[key] = random.choice((None, True, "", "x", [], {}, -1, 1e308, [1], {"a": 1},
                                     random.choice(NASTY)))  # fmt: skip


def _word(data: bytes, random: Random) -> bytes:
    found = list(_WORD.finditer(data))
    if not found:
        return _byte(data, random)
    at = random.choice(found)
    nasty = random.choice(NASTY) if random.random() < 0.8 else random.choice(found).group().decode()
    return data[: at.start()] + nasty.encode() + data[at.end() :]


def _line_lost(data: bytes, random: Random) -> bytes:
    lines = data.splitlines(keepends=True)
    if lines:
        del lines[random.randrange(len(lines))]
    return b"".join(lines)


def _line_doubled(data: bytes, random: Random) -> bytes:
    lines = data.splitlines(keepends=True) or [b""]
    at = random.randrange(len(lines))
    return b"".join(
        [*lines[: at + 1], *([lines[at]] * random.choice((1, 1, 200))), *lines[at + 1 :]]
    )


def _lines_swapped(data: bytes, random: Random) -> bytes:
    lines = data.splitlines(keepends=True) or [b""]
    a, b = random.randrange(len(lines)), random.randrange(len(lines))
    lines[a], lines[b] = lines[b], lines[a]
    return b"".join(lines)


def _slice(data: bytes, random: Random) -> bytes:
    begin = random.randrange(len(data) + 1)
    end = min(len(data), begin + random.choice((1, 5, 40, 400)))
    return data[:begin] + data[begin:end] * random.choice((0, 2, 30)) + data[end:]


def _byte(data: bytes, random: Random) -> bytes:
    at = random.randrange(len(data) + 1)
    return data[:at] + bytes([random.randrange(256)]) + data[at + random.choice((0, 1)) :]


def _cut(data: bytes, random: Random) -> bytes:
    return data[: random.randrange(len(data) + 1)]
