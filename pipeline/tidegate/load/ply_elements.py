"""Body of a PLY file: rows of numbers, as text or bytes, with lists of any length in them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tidegate.errors import UnreadableFile

from .ply_header import Element, Header

_LONGEST_NUMBER = 64  # characters; one endless word would widen every entry of the array


@dataclass(slots=True, eq=False)
class Rows:
    """single: property -> (rows,) float64. lists: property -> ((rows,) int64 lengths, values one after another)."""

    single: dict[str, NDArray[np.float64]] = field(default_factory=dict)
    lists: dict[str, tuple[NDArray[np.int64], NDArray[np.float64]]] = field(default_factory=dict)


def read_elements(data: bytes, header: Header) -> tuple[dict[str, Rows], int]:
    """Rows of every element by name, and how many bytes (text: numbers) were left over.

    Raises UnreadableFile, without a path, when the body is shorter than the header says or holds no numbers.
    """
    source = _Text(data, header) if header.is_text else _Binary(data, header)
    elements = {}
    for element in header.elements:
        elements[element.name] = source.read(element)
    return elements, source.left


class _Source:
    """Common to both kinds of body: columns from rows of one width, or row by row where lists differ."""

    left: int

    def read(self, element: Element) -> Rows:
        smallest = self._width(element, [0] * len(element.properties))
        if element.rows * smallest > self.left:
            raise self._short(element, element.rows * smallest)
        if not element.rows:
            return self._collected(element, [])
        lengths = self._first_lengths(element)
        uniform = self._uniform(element, lengths)
        return uniform if uniform is not None else self._row_by_row(element)

    def _width(self, element: Element, lengths: list[int]) -> int:
        raise NotImplementedError

    def _first_lengths(self, element: Element) -> list[int]:
        raise NotImplementedError

    def _uniform(self, element: Element, lengths: list[int]) -> Rows | None:
        raise NotImplementedError

    def _row_by_row(self, element: Element) -> Rows:
        raise NotImplementedError

    def _short(self, element: Element, expected: int) -> UnreadableFile:
        unit = "numbers" if isinstance(self, _Text) else "bytes"
        return UnreadableFile(
            f"the PLY body is cut off in {element.name!r}",
            expected=f"at least {expected:,} {unit} for {element.rows:,} rows",
            came=f"{self.left:,} {unit}",
            help="copy or export the file again",
        )

    def _collected(self, element: Element, rows: list[list[NDArray[Any]]]) -> Rows:
        """Columns of rows that were read one at a time."""
        collected = Rows()
        for place, prop in enumerate(element.properties):
            values = [row[place] for row in rows]
            flat = np.concatenate(values).astype(np.float64) if values else np.zeros(0)
            if prop.count is None:
                collected.single[prop.name] = flat
            else:
                collected.lists[prop.name] = (np.array([len(value) for value in values], dtype=np.int64), flat)
        return collected


class _Text(_Source):
    def __init__(self, data: bytes, header: Header) -> None:
        words = data[header.start :].split()
        if max(map(len, words), default=0) > _LONGEST_NUMBER:
            raise UnreadableFile("the PLY body holds a word that is no number", came="one of very many characters")
        try:
            self._numbers = np.array(words, dtype=f"S{_LONGEST_NUMBER}" if not words else None).astype(np.float64)
        except ValueError as fault:
            raise UnreadableFile(
                "the PLY body holds a word that is no number", came=str(fault)[:80], help="export the mesh again"
            ) from fault
        self.left = len(self._numbers)

    @property
    def _at(self) -> int:
        return len(self._numbers) - self.left

    def _width(self, element: Element, lengths: list[int]) -> int:
        return sum(1 + (n if p.count is not None else 0) for p, n in zip(element.properties, lengths, strict=True))

    def _first_lengths(self, element: Element) -> list[int]:
        row, _ = self._row(element, self._at)
        return [len(values) for values in row]

    def _uniform(self, element: Element, lengths: list[int]) -> Rows | None:
        width = self._width(element, lengths)
        if element.rows * width > self.left:
            return None
        table = self._numbers[self._at : self._at + element.rows * width].reshape(element.rows, width)
        rows, at = Rows(), 0
        for prop, length in zip(element.properties, lengths, strict=True):
            if prop.count is None:
                rows.single[prop.name] = table[:, at].copy()
                at += 1
                continue
            if (table[:, at] != length).any():
                return None
            lengths_column = np.full(element.rows, length, dtype=np.int64)
            rows.lists[prop.name] = (lengths_column, table[:, at + 1 : at + 1 + length].reshape(-1))
            at += 1 + length
        self.left -= element.rows * width
        return rows

    def _row_by_row(self, element: Element) -> Rows:
        rows, at = [], self._at
        for _ in range(element.rows):
            row, at = self._row(element, at)
            rows.append(row)
        self.left = len(self._numbers) - at
        return self._collected(element, rows)

    def _row(self, element: Element, at: int) -> tuple[list[NDArray[Any]], int]:
        row = []
        for prop in element.properties:
            length = 1
            if prop.count is not None:
                if at >= len(self._numbers):
                    raise self._short(element, element.rows)
                length = _length(element, self._numbers[at])
                at += 1
            if at + length > len(self._numbers):
                raise self._short(element, at + length - self._at)
            row.append(self._numbers[at : at + length])
            at += length
        return row, at


class _Binary(_Source):
    def __init__(self, data: bytes, header: Header) -> None:
        self._data = memoryview(data)[header.start :]
        self.left = len(self._data)

    @property
    def _at(self) -> int:
        return len(self._data) - self.left

    def _width(self, element: Element, lengths: list[int]) -> int:
        return sum(
            p.item.itemsize if p.count is None else p.count.itemsize + n * p.item.itemsize
            for p, n in zip(element.properties, lengths, strict=True)
        )

    def _first_lengths(self, element: Element) -> list[int]:
        row, _ = self._row(element, self._at)
        return [len(values) for values in row]

    def _uniform(self, element: Element, lengths: list[int]) -> Rows | None:
        width = self._width(element, lengths)
        if element.rows * width > self.left:
            return None
        rows, at = Rows(), self._at
        for prop, length in zip(element.properties, lengths, strict=True):
            if prop.count is None:
                rows.single[prop.name] = self._column(prop.item, element.rows, 1, at, width)[:, 0].astype(np.float64)
                at += prop.item.itemsize
                continue
            if (self._column(prop.count, element.rows, 1, at, width) != length).any():
                return None
            at += prop.count.itemsize
            values = self._column(prop.item, element.rows, length, at, width)
            rows.lists[prop.name] = (
                np.full(element.rows, length, dtype=np.int64),
                values.astype(np.float64).reshape(-1),
            )
            at += length * prop.item.itemsize
        self.left -= element.rows * width
        return rows

    def _column(self, kind: np.dtype[Any], rows: int, items: int, at: int, width: int) -> NDArray[Any]:
        return np.ndarray((rows, items), kind, self._data, at, (width, kind.itemsize))

    def _row_by_row(self, element: Element) -> Rows:
        rows, at = [], self._at
        for _ in range(element.rows):
            row, at = self._row(element, at)
            rows.append(row)
        self.left = len(self._data) - at
        return self._collected(element, rows)

    def _row(self, element: Element, at: int) -> tuple[list[NDArray[Any]], int]:
        row = []
        for prop in element.properties:
            length = 1
            if prop.count is not None:
                if at + prop.count.itemsize > len(self._data):
                    raise self._short(element, at + prop.count.itemsize - self._at)
                length = _length(element, np.frombuffer(self._data, prop.count, 1, at)[0])
                at += prop.count.itemsize
            end = at + length * prop.item.itemsize
            if end > len(self._data):
                raise self._short(element, end - self._at)
            row.append(np.frombuffer(self._data, prop.item, length, at))
            at = end
        return row, at


def _length(element: Element, value: Any) -> int:
    if not (value >= 0 and value == int(value)):
        raise UnreadableFile(f"a list of the PLY element {element.name!r} has a length below zero", came=str(value))
    return int(value)
