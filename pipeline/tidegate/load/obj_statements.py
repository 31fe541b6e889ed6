"""Which mesh, groups and material each face of an OBJ file belongs to, from the statements between the faces.

"All grouping statements are state-setting", and a material "cannot be turned off; it can only be changed" (Object Files
(.obj) Appendix B1, grouping and `usemtl`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from tidegate.model.reference import ReadNote

from .obj_text import decode

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .obj_scan import ObjArrays, Statement

_COMMENT = re.compile(r"\s#(?:\s.*)?$")  # "crate #2" is a name, "crate # the second" is a name and a comment
_DEFAULT_GROUP = "default"  # name of the group of a `g` without a name (Appendix B1, `g`)
_NAMED_KEYWORDS = 20  # unknown keywords told one by one

_POINTS_AND_LINES = {"p", "l"}
_FREE_FORM = frozenset(
    ("vp", "cstype", "deg", "bmat", "step", "curv", "curv2", "surf", "parm", "trim", "hole", "scrv", "sp", "end", "con")
) | frozenset(("res", "bzp", "bsp", "cdc", "cdp"))  # superseded statements
_DISPLAY = frozenset(
    ("mg", "bevel", "c_interp", "d_interp", "lod", "shadow_obj", "trace_obj", "ctech", "stech", "maplib", "usemap")
)
_OTHER_FILES = {"call", "csh"}
_READ = {"o", "g", "usemtl", "mtllib", "s"}


@dataclass(slots=True, eq=False)
class FaceLabels:
    """mesh, material, group: (faces,) int32 into the names; material -1 before the first `usemtl`.

    mesh_names hold "" for faces before the first `o`. group_names: a tuple of names each, () before the first `g`.
    has_objects: the file states `o` at all. libraries: the text behind each `mtllib`, bytes, with its line.
    """

    mesh: NDArray[np.int32]
    mesh_names: tuple[str, ...]
    group: NDArray[np.int32]
    group_names: tuple[tuple[str, ...], ...]
    material: NDArray[np.int32]
    material_names: tuple[str, ...]
    has_objects: bool
    libraries: tuple[tuple[bytes, int], ...]
    notes: list[ReadNote]


@dataclass(slots=True)
class _Names:
    """Names seen, each with a number, and which encodings they were read by."""

    encodings: dict[str, int] = field(default_factory=dict)

    def read(self, rest: bytes, line: int) -> str:
        text, encoding = decode(rest)
        if encoding != "utf-8":
            self.encodings.setdefault(encoding, line)
        return _COMMENT.sub("", text).strip()


def label_faces(arrays: ObjArrays) -> FaceLabels:
    """Follows the statements through the file."""
    names = _Names()
    meshes: dict[str, int] = {"": 0}
    groups: dict[tuple[str, ...], int] = {(): 0}
    materials: dict[str, int] = {}
    libraries: list[tuple[bytes, int]] = []
    state = [0, 0, -1]
    starts, states = [0], [tuple(state)]
    stated_objects: dict[str, int] = {}
    notes: list[ReadNote] = []
    unread: dict[str, list[Statement]] = {}
    for statement in arrays.statements:
        keyword = statement.keyword
        if keyword == "usemtl":
            state[2] = materials.setdefault(names.read(statement.rest, statement.line), len(materials))
        elif keyword == "g":
            found = tuple(names.read(statement.rest, statement.line).split()) or (_DEFAULT_GROUP,)
            state[1] = groups.setdefault(found, len(groups))
        elif keyword == "o":
            name = names.read(statement.rest, statement.line)
            if name in stated_objects and meshes[name] != state[0]:
                notes.append(
                    ReadNote(
                        "object-stated-twice",
                        "note",
                        f"object `{name}` is stated at line {stated_objects[name]} and again at line {statement.line}; "
                        "both are read as one mesh",
                        "give every object a name of its own",
                        f"line {statement.line}",
                    )
                )
            stated_objects.setdefault(name, statement.line)
            state[0] = meshes.setdefault(name, len(meshes))
        elif keyword == "mtllib":
            libraries.append((statement.rest, statement.line))
            continue
        else:
            if keyword not in _READ:
                unread.setdefault(keyword, []).append(statement)
            continue
        if statement.faces == starts[-1]:
            states[-1] = tuple(state)
        else:
            starts.append(statement.faces)
            states.append(tuple(state))
    lengths = np.diff(starts, append=len(arrays.counts))
    columns = np.repeat(np.array(states, dtype=np.int32), lengths, axis=0)
    notes += _unread_notes(unread)
    notes += [
        ReadNote(
            "names-not-utf-8",
            "note",
            f"names are not UTF-8 and were read as {encoding}, first at line {line}",
            "save the file as UTF-8, or use plain ASCII names",
            f"line {line}",
        )
        for encoding, line in names.encodings.items()
    ]
    return FaceLabels(
        mesh=np.ascontiguousarray(columns[:, 0]),
        mesh_names=tuple(meshes),
        group=np.ascontiguousarray(columns[:, 1]),
        group_names=tuple(groups),
        material=np.ascontiguousarray(columns[:, 2]),
        material_names=tuple(materials),
        has_objects=bool(stated_objects),
        libraries=tuple(libraries),
        notes=notes,
    )


def groups_as_meshes(labels: FaceLabels, vertex: NDArray[np.int32], counts: NDArray[np.int32]) -> None:
    """Where the file states no `o`: each group that shares no position with another becomes a mesh of its own.

    Groups that do share positions are regions of one surface; together they are the mesh "". vertex: (c,) position
    of each corner. counts: (faces,) corners of each face.
    """
    if labels.has_objects or len(np.unique(labels.group)) < 2:
        return
    group_of_corner = np.repeat(labels.group, counts)
    last_group = np.zeros(int(vertex.max()) + 1, dtype=np.int32)
    last_group[vertex] = group_of_corner
    # Where a position has corners of several groups, all but the one that wrote last disagree with what stands there.
    other = last_group[vertex] != group_of_corner
    shares = np.zeros(len(labels.group_names), dtype=bool)
    shares[group_of_corner[other]] = True
    shares[last_group[vertex[other]]] = True
    names: dict[str, int] = {"": 0}
    mesh_of_group = [
        0 if shared else names.setdefault(" ".join(group), len(names))
        for group, shared in zip(labels.group_names, shares.tolist(), strict=True)
    ]
    labels.mesh = np.array(mesh_of_group, dtype=np.int32)[labels.group]
    labels.mesh_names = tuple(names)


def _unread_notes(unread: dict[str, list[Statement]]) -> list[ReadNote]:
    notes = []
    unknown = 0
    for keyword, statements in unread.items():
        first = statements[0].line
        many = f"{len(statements)} `{keyword}` statement{'s' if len(statements) > 1 else ''}, first at line {first}"
        if keyword in _POINTS_AND_LINES:
            note = ReadNote("points-and-lines", "note", f"{many}: points and lines are no surface and were left out")
        elif keyword in _FREE_FORM:
            note = ReadNote(
                "free-form-surface",
                "warning",
                f"{many}: curves and curved surfaces are not read",
                "convert them to polygons before the export",
            )
        elif keyword in _DISPLAY:
            note = ReadNote(
                "display-statement", "note", f"{many}: it steers a display or a renderer and was passed over"
            )
        elif keyword in _OTHER_FILES:
            note = ReadNote("other-file-called", "warning", f"{many}: files called from here are never opened")
        else:
            unknown += 1
            if unknown > _NAMED_KEYWORDS:
                continue
            shown = keyword if len(keyword) <= 24 else keyword[:24] + "..."
            note = ReadNote(
                "unknown-statement",
                "warning",
                f"{len(statements)} line{'s' if len(statements) > 1 else ''} not understood, first `{shown}` at line {first}",
                "check whether the file was damaged on the way",
            )
        notes.append(ReadNote(note.code, note.level, note.message, note.help, f"line {first}"))
    if unknown > _NAMED_KEYWORDS:
        message = f"lines with {unknown - _NAMED_KEYWORDS} more unknown keywords"
        notes.append(ReadNote("unknown-statement", "warning", message))
    return notes
