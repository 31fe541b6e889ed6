"""STL files -> MeshFile, through trimesh, with counts proven against the file. STL holds no UVs and no materials."""

from __future__ import annotations

import io
import re
import struct
import warnings
from typing import Any

import numpy as np

from tidegate.errors import LimitExceeded, UnreadableFile
from tidegate.model.mesh import MeshFile, MeshPart, frozen_array
from tidegate.model.reference import ReadNote

from .axes import y_up
from .limits import DEFAULT_LIMITS, ReadLimits
from .not_a_picture import described, pointer_text
from .references import DropFolder

_MARK = re.compile(rb"^[ \t]*(end)?solid\b([^\r\n]*)", re.MULTILINE | re.IGNORECASE)
_NORMAL = re.compile(rb"normal[^\r\n]*", re.IGNORECASE)
_HEADER, _TRIANGLE = 84, 50  # bytes of the binary form


def read_stl(
    folder: DropFolder, path: str, *, unit: float = 1.0, up_axis: str = "y", limits: ReadLimits = DEFAULT_LIMITS
) -> MeshFile:
    """Reads an STL file, text or binary: one part a solid, three positions of its own for each triangle.

    path: relative to the drop. unit: metres per file unit. up_axis: "y" or "z".
    Raises UnreadableFile and LimitExceeded; both name the file.
    """
    try:
        return _read(folder, path, unit, up_axis, limits)
    except UnreadableFile as fault:
        fault.path = fault.path or path
        raise


def _read(folder: DropFolder, path: str, unit: float, up_axis: str, limits: ReadLimits) -> MeshFile:
    data = folder.read_bytes(path, limits.file_bytes)
    if not data:
        raise UnreadableFile("the file is empty", came="zero bytes", help="copy or export it again")
    if pointer_text(data[:1024]):
        raise UnreadableFile(
            "this is the pointer text of a large-file store; the mesh itself was not fetched",
            help="fetch the large files of the repository, then hand over again",
        )
    notes: list[ReadNote] = []
    solids = _text_solids(data) if _is_text(data) else [("", _binary(data, notes))]
    parts = []
    for name, (solid, triangles) in solids:
        if triangles > limits.triangles:
            raise LimitExceeded(
                "the STL holds more triangles than the limits allow",
                expected=f"at most {limits.triangles:,}",
                came=f"{triangles:,}",
            )
        part = _part(name, solid, triangles, unit, up_axis)
        if part is not None:
            parts.append(part)
            if not np.isfinite(part.positions).all():
                bad = int((~np.isfinite(part.positions)).any(axis=1).sum())
                notes.append(
                    ReadNote(
                        "bad-positions", "error", f"{bad:,} corners have a position that is not a number", place=name
                    )
                )
    if not parts:
        notes.append(ReadNote("no-triangles", "error", "the file holds no triangles", help="export the mesh again"))
    return MeshFile(
        path=path,
        format="stl",
        parts=tuple(sorted(parts, key=lambda part: part.mesh)),
        notes=tuple(notes),
        unit=unit,
        unit_stated=False,
        up_axis=up_axis,
    )


def _is_text(data: bytes) -> bool:
    """Binary files may start with "solid" too; the length of those agrees with their count."""
    if not data[:512].lstrip().lower().startswith(b"solid"):
        return False
    if len(data) < _HEADER:
        return True
    return _HEADER + _TRIANGLE * int(struct.unpack_from("<I", data, 80)[0]) != len(data) and b"\0" not in data[:4096]


def _text_solids(data: bytes) -> list[tuple[str, tuple[bytes, int]]]:
    """(name, (text of the solid, triangles)) of each solid, every one proven whole."""
    cut = UnreadableFile("the STL is cut off", expected='an "endsolid" for each "solid"', help="export it again")
    marks = list(_MARK.finditer(data))
    solids, end = [], 0
    if not marks or len(marks) % 2:
        raise cut
    for opened, closed in zip(marks[::2], marks[1::2], strict=True):
        if opened[1] or not closed[1] or data[end : opened.start()].strip():
            raise cut
        end = closed.end()
        text = data[opened.end() : closed.start()]
        words = text.lower()
        facets, vertices = words.count(b"endfacet"), words.count(b"vertex")
        if vertices != 3 * facets or words.count(b"facet") != 2 * facets:
            raise UnreadableFile(
                "a solid of the STL is damaged",
                expected=f"three vertices for each of {facets:,} facets",
                came=f"{vertices:,} vertices",
                help="export the mesh again",
            )
        # Stated normals are not used, and damaged ones would only make trimesh speak up.
        plain = b"solid\n" + _NORMAL.sub(b"normal 0 0 1", text) + b"\nendsolid\n"
        solids.append((opened[2].strip().decode("utf-8", "replace"), (plain, facets)))
    if data[end:].strip(b"\0 \t\r\n"):
        raise cut
    return solids


def _binary(data: bytes, notes: list[ReadNote]) -> tuple[bytes, int]:
    if len(data) < _HEADER:
        raise UnreadableFile(
            "this is no STL file, or it is cut off",
            expected=f"at least {_HEADER} bytes",
            came=described(data[:1024]) or f"{len(data):,} bytes",
            help="copy or export the file again",
        )
    triangles = int(struct.unpack_from("<I", data, 80)[0])
    expected = _HEADER + _TRIANGLE * triangles
    if len(data) < expected:
        raise UnreadableFile(
            "this is no STL file, or it is cut off",
            expected=f"{expected:,} bytes for {triangles:,} triangles",
            came=f"{len(data):,} bytes",
            help="copy or export the file again",
        )
    if len(data) > expected:
        notes.append(
            ReadNote("bytes-after-end", "warning", f"{len(data) - expected:,} bytes follow the last triangle; left out")
        )
    return data[:expected], triangles


def _part(name: str, solid: bytes, triangles: int, unit: float, up_axis: str) -> MeshPart | None:
    if not triangles:
        return None
    from trimesh.exchange.stl import load_stl

    try:
        with warnings.catch_warnings():
            # NumPy stops at a word that is no number, with a warning; the count below tells.
            warnings.simplefilter("ignore")
            loaded: dict[str, Any] = load_stl(io.BytesIO(solid))
        vertices, faces = np.asarray(loaded["vertices"], np.float64), np.asarray(loaded["faces"])
    except Exception as fault:
        raise UnreadableFile("the STL is damaged", came=str(fault)[:120], help="export the mesh again") from fault
    if faces.shape != (triangles, 3) or vertices.shape != (3 * triangles, 3):
        raise UnreadableFile(
            "the STL is damaged", expected=f"{triangles:,} triangles", came=f"{len(faces):,} that could be read"
        )
    return MeshPart(
        node="",
        mesh=name,
        material=-1,
        positions=frozen_array(y_up(vertices, up_axis) * unit),
        triangles=frozen_array(faces.astype(np.int32)),
    )
