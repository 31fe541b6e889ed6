"""CSV as spreadsheets save it: any of their separators and encodings, every row with its line."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path

from tidegate.errors import ConfigurationFault

SEPARATORS = (",", ";", "\t")


@dataclass(frozen=True, slots=True)
class TableRow:
    """line: 1-based line the row starts in. cells: without the blanks around them."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """separator: what stood between the cells. rows: the header first; rows without any content left out."""

    separator: str
    rows: tuple[TableRow, ...]


def read_table(path: str | Path) -> Table:
    """A CSV file. UTF-8 with or without byte order mark, UTF-16 with one, else code page 1252.

    Raises ConfigurationFault for a file that is not there, is no text, or has an open quote.
    """
    try:
        content = Path(path).read_bytes()
    except OSError as error:
        raise ConfigurationFault(f"cannot be read: {error.strerror or error}", path=str(path)) from error
    text = _text(content, str(path))
    separator = _separator(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    rows: list[TableRow] = []
    line = 1
    try:
        for cells in reader:
            stripped = tuple(cell.strip() for cell in cells)
            if any(stripped):
                rows.append(TableRow(line, stripped))
            line = reader.line_num + 1
    except csv.Error as error:
        raise ConfigurationFault(
            f"is not a table: {error}",
            path=str(path),
            line=line,
            help="close every quote; double a quote inside a cell",
        ) from error
    return Table(separator, tuple(rows))


def _text(content: bytes, path: str) -> str:
    encodings = ("utf-16",) if content[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252")
    for encoding in encodings:
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise ConfigurationFault("is not text", path=path, help="save it as CSV in UTF-8")


def _separator(text: str) -> str:
    """The separator that stands most often in the header line outside quotes; a comma when none does."""
    header = next((line for line in text.splitlines() if line.strip()), "")
    outside = "".join(header.split('"')[::2])
    return max(SEPARATORS, key=outside.count)
