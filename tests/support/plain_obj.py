"""A deliberately plain OBJ reader: one line, one word, one number after the other. Slow, and easy to believe.

It knows what random test files hold and no more. The real reader must agree with it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field


@dataclass
class PlainFace:
    """v, vt, vn: 0-based indices of each corner; vt and vn are None where the face has none."""

    v: list[int]
    vt: list[int] | None
    vn: list[int] | None
    mesh: str
    material: str | None
    line: int


@dataclass
class PlainObj:
    v: list[tuple[float, ...]] = field(default_factory=list)
    vt: list[tuple[float, float]] = field(default_factory=list)
    vn: list[tuple[float, ...]] = field(default_factory=list)
    faces: list[PlainFace] = field(default_factory=list)


def read_plainly(text: str) -> PlainObj:
    """Reads a well-formed OBJ text with `o`, `usemtl`, `v`, `vt`, `vn` and `f` statements."""
    out = PlainObj()
    mesh, material = "", None
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    logical: list[tuple[int, str]] = []
    pending, began = "", 0
    for number, line in enumerate(text.split("\n"), 1):
        if not pending:
            began = number
        if line.endswith("\\"):
            pending += line[:-1] + " "
            continue
        logical.append((began, pending + line))
        pending = ""
    for number, line in logical:
        words = re.sub(r"(^|\s)#.*", "", line).split()
        if not words:
            continue
        key, rest = words[0], words[1:]
        if key == "v":
            out.v.append(tuple(float(w) for w in rest[:3]))
        elif key == "vt":
            out.vt.append((float(rest[0]), float(rest[1]) if len(rest) > 1 else 0.0))
        elif key == "vn":
            out.vn.append(tuple(float(w) for w in rest[:3]))
        elif key == "o":
            mesh = rest[0]
        elif key == "usemtl":
            material = rest[0]
        elif key == "f":
            out.faces.append(_face(rest, out, mesh, material, number))
    return out


def _face(words: list[str], so_far: PlainObj, mesh: str, material: str | None, line: int) -> PlainFace:
    columns: list[list[int | None]] = [[], [], []]
    for word in words:
        fields = [*word.split("/"), "", ""][:3]
        for column, text, seen in zip(columns, fields, (so_far.v, so_far.vt, so_far.vn), strict=True):
            if not text:
                column.append(None)
            elif int(text) > 0:
                column.append(int(text) - 1)
            else:
                column.append(len(seen) + int(text))
    v, vt, vn = ([i for i in column if i is not None] for column in columns)
    return PlainFace(v, vt or None, vn or None, mesh, material, line)
