"""TOML with the line of every key: values from tomllib, lines from a scanner of our own.

tomllib proves the text valid and gives the values, but no lines. The scanner then walks the same text, which it may
take to be valid, and notes where each key stands: tables, arrays of tables, dotted keys, inline tables, array items.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tidegate.errors import ConfigurationFault

KeyPath = tuple[str | int, ...]
"""Keys from the root down; an item of an array is its number, 0 first."""


@dataclass(frozen=True, slots=True)
class LocatedToml:
    """A TOML file as read. path: as it was named. lines: 1-based line of every key path."""

    path: str
    values: dict[str, Any]
    lines: Mapping[KeyPath, int]

    def line_of(self, *keys: str | int) -> int:
        """Line of a key path; for a key that is not there, the line of the nearest table around it; 1 for the root."""
        for length in range(len(keys), 0, -1):
            line = self.lines.get(keys[:length])
            if line is not None:
                return line
        return 1


def read_toml(path: str | Path) -> LocatedToml:
    """Values and lines of a TOML file. UTF-8, a byte order mark is passed over.

    Raises ConfigurationFault, with the line where there is one, for a file that is not there or is not TOML.
    """
    try:
        content = Path(path).read_bytes()
    except OSError as error:
        raise ConfigurationFault(
            f"cannot be read: {error.strerror or error}", path=str(path), help="check the name and the permissions"
        ) from error
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ConfigurationFault(
            "is not UTF-8 text",
            path=str(path),
            line=content.count(b"\n", 0, error.start) + 1,
            came=f"byte 0x{content[error.start]:02X}",
            help="save the file as UTF-8",
        ) from error
    return parse_toml(text, str(path))


def parse_toml(text: str, path: str) -> LocatedToml:
    """As `read_toml`, for a text in hand. path: named in faults."""
    try:
        values = tomllib.loads(text)
        return LocatedToml(path=path, values=values, lines=_Locator(text).locate())
    except tomllib.TOMLDecodeError as error:
        raise _syntax_fault(str(error), text, path) from error
    except RecursionError as error:
        raise ConfigurationFault("nests arrays or tables too deeply to be read", path=path) from error
    except ValueError as error:  # a date or number that has the right form and no meaning, such as 31 February
        raise ConfigurationFault(f"is not valid TOML: {error}", path=path) from error


def _syntax_fault(message: str, text: str, path: str) -> ConfigurationFault:
    place = re.search(r" \(at (?:line (\d+), column (\d+)|end of document)\)$", message)
    if place is None:
        line = 0
    elif place[1] is None:
        line = text.rstrip("\n").count("\n") + 1
    else:
        line = int(place[1])
    said = message[: place.start()] if place else message
    column = f", column {place[2]}" if place and place[2] else ""
    return ConfigurationFault(
        f"is not valid TOML: {said[:1].lower()}{said[1:]}{column}",
        path=path,
        line=line,
        help="a text stands in quotes, a list in square brackets, and every key once",
    )


_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_SPACE = re.compile(r"[ \t]*")
_BASIC = re.compile(r'"((?:[^"\\]|\\.)*)"')
_LITERAL = re.compile(r"'([^']*)'")
# Up to two quotes may stand right before the closing three (TOML 1.0, "String").
_LONG_BASIC = re.compile(r'"""(?:[^"\\]|\\[\s\S]|"(?!""))*"""(?:""|")?')
_LONG_LITERAL = re.compile(r"'''(?:[^']|'(?!''))*'''(?:''|')?")
_PLAIN_VALUE = re.compile(r"[^,\]}#\n]+")


class _Locator:
    """One walk over a text that tomllib has accepted."""

    def __init__(self, text: str) -> None:
        self._text = text.replace("\r\n", "\n")
        self._breaks = [match.start() for match in re.finditer("\n", self._text)]
        self._at = 0
        self._lines: dict[KeyPath, int] = {}
        self._table_counts: dict[KeyPath, int] = {}

    def locate(self) -> dict[KeyPath, int]:
        table: KeyPath = ()
        while True:
            self._pass(_BLANK)
            if self._at >= len(self._text):
                return self._lines
            if self._text.startswith("[", self._at):
                table = self._header()
            else:
                self._assignment(table)

    def _line(self) -> int:
        return bisect_right(self._breaks, self._at - 1) + 1

    def _pass(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self._text, self._at)
        if match is None:
            return ""
        self._at = match.end()
        return match[0]

    def _header(self) -> KeyPath:
        """A `[table]` or `[[table]]` line. Returns the path that the keys below it continue."""
        line = self._line()
        many = self._text.startswith("[[", self._at)
        self._at += 2 if many else 1
        keys = self._key()
        self._pass(_SPACE)
        self._at += 2 if many else 1
        path: KeyPath = ()
        for key in keys[:-1]:
            path = self._latest((*path, key), line)
        path = (*path, keys[-1])
        if many:
            self._lines.setdefault(path, line)
            number = self._table_counts.get(path, 0)
            self._table_counts[path] = number + 1
            path = (*path, number)
        self._lines[path] = line
        return path

    def _latest(self, path: KeyPath, line: int) -> KeyPath:
        """The path itself, or its newest item when it is an array of tables."""
        self._lines.setdefault(path, line)
        count = self._table_counts.get(path)
        return path if count is None else (*path, count - 1)

    def _key(self) -> list[str]:
        """A key, dotted or not, with the blanks before it."""
        keys = []
        while True:
            self._pass(_SPACE)
            keys.append(self._key_part())
            self._pass(_SPACE)
            if not self._text.startswith(".", self._at):
                return keys
            self._at += 1

    def _key_part(self) -> str:
        quoted = self._text[self._at : self._at + 1]
        if quoted == "'":
            return self._pass(_LITERAL)[1:-1]
        if quoted == '"':
            # Escapes in a quoted key are tomllib's business: let it read the key as a value.
            return str(tomllib.loads(f"key = {self._pass(_BASIC)}")["key"])
        return self._pass(_BARE_KEY)

    def _assignment(self, table: KeyPath) -> None:
        """`key = value` below the table."""
        line = self._line()
        path = table
        for key in self._key():
            path = (*path, key)
            self._lines.setdefault(path, line)
        self._at += 1  # the equals sign
        self._pass(_SPACE)
        self._value(path)

    def _value(self, path: KeyPath) -> None:
        text, at = self._text, self._at
        if text.startswith('"""', at):
            self._pass(_LONG_BASIC)
        elif text.startswith("'''", at):
            self._pass(_LONG_LITERAL)
        elif text.startswith('"', at):
            self._pass(_BASIC)
        elif text.startswith("'", at):
            self._pass(_LITERAL)
        elif text.startswith("[", at):
            self._items(path)
        elif text.startswith("{", at):
            self._inline_table(path)
        else:
            self._pass(_PLAIN_VALUE)

    def _items(self, path: KeyPath) -> None:
        self._at += 1
        number = 0
        while True:
            self._pass(_BLANK)
            sign = self._text[self._at]
            if sign == "]":
                self._at += 1
                return
            if sign == ",":
                self._at += 1
                continue
            self._lines[(*path, number)] = self._line()
            self._value((*path, number))
            number += 1

    def _inline_table(self, path: KeyPath) -> None:
        self._at += 1
        while True:
            self._pass(_BLANK)
            sign = self._text[self._at]
            if sign == "}":
                self._at += 1
                return
            if sign == ",":
                self._at += 1
                continue
            self._assignment(path)
