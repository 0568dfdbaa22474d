"""On which line each key of a TOML file stands, for messages.

The file has been read by ``tomllib`` before, so this scanner only has to find its way
through text that is known to be valid.
"""

from __future__ import annotations

import re
from bisect import bisect_right

KeyPath = tuple[str | int, ...]

_BLANK = re.compile(r"(?:[ \t\n]|#[^\n]*)*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_SCALAR = re.compile(r"[^,\]}#\n]*")
_STRINGS = (
    re.compile(r'"""(?:[^\\]|\\.)*?"{3,5}', re.DOTALL),
    re.compile(r"'''.*?'{3,5}", re.DOTALL),
    re.compile(r'"(?:[^"\\\n]|\\.)*"'),
    re.compile(r"'[^'\n]*'"),
)


def key_lines(text: str) -> dict[KeyPath, int]:
    """Line (from 1) of every table, key and array element of valid TOML with ``\\n`` ends."""
    scanner = _Scanner(text)
    scanner.document()
    return scanner.lines


def line_of(lines: dict[KeyPath, int], path: KeyPath) -> int | None:
    """The line of ``path``, or of the nearest table around it that stands in the file."""
    for end in range(len(path), 0, -1):
        if path[:end] in lines:
            return lines[path[:end]]
    return None


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.lines: dict[KeyPath, int] = {}
        self._starts = [0] + [i + 1 for i, c in enumerate(text) if c == "\n"]
        self._counts: dict[KeyPath, int] = {}

    def document(self) -> None:
        table: KeyPath = ()
        self._blank()
        while self.at < len(self.text):
            if self.text.startswith("[", self.at):
                table = self._header()
            else:
                self._pair(table)
            self._blank()

    def _header(self) -> KeyPath:
        line = self._line()
        many = self.text.startswith("[[", self.at)
        self.at += 2 if many else 1
        keys = self._keys()
        self.at += 2 if many else 1
        path: KeyPath = ()
        for depth, key in enumerate(keys):
            path = (*path, key)
            self.lines.setdefault(path, line)
            if many and depth == len(keys) - 1:
                self._counts[path] = self._counts.get(path, 0) + 1
            if path in self._counts:
                path = (*path, self._counts[path] - 1)
        self.lines.setdefault(path, line)
        return path

    def _pair(self, table: KeyPath) -> None:
        line = self._line()
        path = table
        for key in self._keys():
            path = (*path, key)
            self.lines.setdefault(path, line)
        self._blank()
        self.at += 1  # the equals sign
        self._blank()
        self._value(path)

    def _value(self, path: KeyPath) -> None:
        for pattern in _STRINGS:
            if match := pattern.match(self.text, self.at):
                self.at = match.end()
                return
        if self.text.startswith("[", self.at):
            self._array(path)
        elif self.text.startswith("{", self.at):
            self._inline_table(path)
        else:
            match = _SCALAR.match(self.text, self.at)
            self.at = match.end() if match else len(self.text)

    def _array(self, path: KeyPath) -> None:
        self.at += 1
        index = 0
        self._blank()
        while not self.text.startswith("]", self.at):
            self.lines[(*path, index)] = self._line()
            self._value((*path, index))
            index += 1
            self._comma()
        self.at += 1

    def _inline_table(self, path: KeyPath) -> None:
        self.at += 1
        self._blank()
        while not self.text.startswith("}", self.at):
            self._pair(path)
            self._comma()
        self.at += 1

    def _comma(self) -> None:
        self._blank()
        if self.text.startswith(",", self.at):
            self.at += 1
            self._blank()

    def _keys(self) -> list[str]:
        keys: list[str] = []
        while True:
            self._blank()
            start = self.at
            if match := _BARE_KEY.match(self.text, self.at):
                keys.append(match.group())
                self.at = match.end()
            else:
                for pattern in _STRINGS[2:]:
                    if match := pattern.match(self.text, self.at):
                        keys.append(match.group()[1:-1])
                        self.at = match.end()
                        break
            if self.at == start:
                raise ValueError(f"no key at character {start}")
            self._blank()
            if not self.text.startswith(".", self.at):
                return keys
            self.at += 1

    def _blank(self) -> None:
        match = _BLANK.match(self.text, self.at)
        if match:
            self.at = match.end()

    def _line(self) -> int:
        return bisect_right(self._starts, self.at)
