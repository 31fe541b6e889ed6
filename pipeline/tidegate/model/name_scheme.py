"""How names are read. (stub of the record; the scheme itself is written beside it)"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class NameReading:
    """How one name was read by the scheme.

    name: the text. kind: "folder", "mesh", "map", "master", "node", "material". path: file it belongs to.
    fields: (field, value) pairs in order. problems: (field, what is wrong) pairs. proposal: a name that the scheme reads
    without a problem, "" when none could be made.
    """

    name: str
    kind: str
    path: str
    fields: tuple[tuple[str, str], ...] = ()
    problems: tuple[tuple[str, str], ...] = ()
    proposal: str = ""
