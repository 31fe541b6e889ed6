"""OBJ files, with their material libraries, to the model.

Source: "Object Files (.obj)", Appendix B1. Where it leaves open what we need
(units, which axis points up, where v = 0 lies in a picture), the caller says so, or V up is taken, as is common practice.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tidegate.errors import LimitExceeded
from tidegate.model.mesh import Material, MeshFile
from tidegate.model.reference import ReadNote

from .limits import DEFAULT_LIMITS
from .mtl import read_libraries
from .obj_corner_check import check_corners, check_numbers
from .obj_parts import Points, build_parts, used_vertices
from .obj_scan import scan
from .obj_statements import groups_as_meshes, label_faces
from .obj_text import prepare
from .polygons import triangulate

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .limits import ReadLimits
    from .obj_scan import ObjArrays
    from .obj_statements import FaceLabels
    from .obj_text import ObjText
    from .references import DropFolder


def read_obj(
    folder: DropFolder, path: str, *, unit: float = 1.0, up_axis: str = "y", limits: ReadLimits = DEFAULT_LIMITS
) -> MeshFile:
    """The mesh file at `path` of the drop, polygons cut into triangles.

    unit: metres per unit of the file. up_axis: "y", or "z", which is turned by (x, y, z) -> (x, z, -y).
    Meshes are the objects (`o`). A file without any has one mesh a group (`g`), as long as the group shares no position
    with another; groups that do are one mesh, named "". Each part keeps the vertices it uses.
    Raises UnreadableFile: empty, no text, cut off, without faces, or a face uses a vertex that is not there.
    Raises LimitExceeded. Everything smaller is told in `notes`, and the faces are kept where they can be.
    """
    if up_axis not in ("y", "z"):
        raise ValueError(f'up_axis is "y" or "z", not {up_axis!r}')
    source = prepare(folder.read_bytes(path, limits.file_bytes), path)
    arrays = scan(source, limits)
    notes = check_corners(source, arrays)
    notes += check_numbers(arrays)
    labels = label_faces(arrays)
    notes += labels.notes
    groups_as_meshes(labels, arrays.corners[0], arrays.counts)
    _refuse_too_many(labels, path, limits)

    points, point_notes = _points(arrays, unit, up_axis)
    notes += point_notes
    cut = triangulate(points.positions, arrays.corners[0], arrays.counts, (points.uv, arrays.corners[1]))
    notes += _cut_notes(cut.unclear, arrays)
    libraries = read_libraries(folder, path, labels.libraries, limits)
    materials, material_of, material_notes = _materials(libraries.materials, labels)
    notes += libraries.notes + material_notes
    notes += _remaining_notes(source, arrays)
    return MeshFile(
        path=path,
        format="obj",
        parts=build_parts(points, arrays, labels, cut, material_of),
        materials=materials,
        references=libraries.references,
        notes=tuple(notes),
        unit=unit,
        unit_stated=False,
        up_axis=up_axis,
        unused_vertices=len(points.positions) - used_vertices(arrays),
    )


def _refuse_too_many(labels: FaceLabels, path: str, limits: ReadLimits) -> None:
    for what, count, most in (
        ("meshes", len(labels.mesh_names), limits.meshes),
        ("materials", len(labels.material_names), limits.materials),
    ):
        if count > most:
            raise LimitExceeded(
                f"the file has more {what} than the limits allow",
                path=path,
                expected=f"at most {most}",
                came=str(count),
            )


def _points(arrays: ObjArrays, unit: float, up_axis: str) -> tuple[Points, list[ReadNote]]:
    """Positions in metres and Y up; normals turned with them."""
    notes: list[ReadNote] = []
    vertices, uv, normals = arrays.vectors["v"], arrays.vectors["vt"], arrays.vectors["vn"]
    positions = vertices if vertices.shape[1] == 3 else np.ascontiguousarray(vertices[:, :3])
    if unit != 1.0:
        with np.errstate(over="ignore"):
            positions = positions * unit
    if up_axis == "z":
        positions, normals = _turned(positions), _turned(normals)
    if uv.shape[1] == 3 and np.any(uv[:, 2] != 0.0):
        notes.append(
            ReadNote(
                "third-uv-value", "note", "`vt` lines state a third value, which is for solid textures and not used"
            )
        )
    colors = _colors(arrays, notes)
    return Points(positions, normals, np.ascontiguousarray(uv[:, :2]), colors), notes


def _turned(vectors: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.stack((vectors[:, 0], vectors[:, 2], -vectors[:, 1]), axis=1)


def _colors(arrays: ObjArrays, notes: list[ReadNote]) -> NDArray[np.float64] | None:
    """Vertex colours: six numbers on a `v` line are x y z r g b (common practice, no source; the text knows x y z w)."""
    vertices = arrays.vectors["v"]
    width = vertices.shape[1]
    given = ~np.isnan(vertices)
    if width > 3:
        # A coordinate that is no number counts as given here: such a line is told elsewhere.
        numbers = 3 + given[:, 3:].sum(axis=1)
        if np.any((numbers == 4) & (vertices[:, 3] != 1.0)):
            notes.append(
                ReadNote(
                    "weights-not-used", "note", "`v` lines state a weight w, which is for curves only and not used"
                )
            )
        odd = np.flatnonzero((numbers == 5) | (numbers == 7))
        if len(odd):
            line = int(arrays.vector_lines["v"][odd[0]])
            message = f"{len(odd)} `v` lines hold 5 or 7 numbers, first at line {line}; only x y z were read from them"
            notes.append(ReadNote("vertex-numbers-not-understood", "warning", message, place=f"line {line}"))
    if width < 6:
        return None
    colored = given[:, 5] if width == 6 else given[:, 5] & ~given[:, 6]
    if not colored.any():
        return None
    colors = np.where(colored[:, None], vertices[:, 3:6], np.nan)
    if not colored.all():
        message = (
            f"{int((~colored).sum())} of {len(colored)} vertices have no colour; parts that use one are without colours"
        )
        notes.append(ReadNote("vertex-colors-partial", "warning", message))
    highest = float(np.nanmax(colors))
    if 1.0 < highest <= 255.0:
        colors /= 255.0
        notes.append(ReadNote("vertex-colors-in-bytes", "note", "vertex colours go up to 255 and were divided by it"))
    elif highest > 1.0 or float(np.nanmin(colors)) < 0.0:
        message = f"vertex colours lie outside 0 to 1 (up to {highest:g}) and were left out"
        notes.append(ReadNote("vertex-colors-out-of-range", "warning", message))
        return None
    return colors


def _cut_notes(unclear: tuple[int, ...], arrays: ObjArrays) -> list[ReadNote]:
    if not unclear:
        return []
    line = int(arrays.lines[unclear[0]])
    message = (
        f"{len(unclear)} polygon{'s' if len(unclear) > 1 else ''} cannot be cut into triangles without overlap, "
        f"first at line {line}: the outline crosses itself, is flat, or has thousands of corners"
    )
    help = "cut these polygons into triangles or quads in the modelling application"
    return [ReadNote("polygon-not-simple", "warning", message, help, f"line {line}")]


def _materials(
    defined: tuple[Material, ...], labels: FaceLabels
) -> tuple[tuple[Material, ...], dict[str, int], list[ReadNote]]:
    """Materials of the libraries, then those that only `usemtl` names."""
    number = {material.name: i for i, material in enumerate(defined)}
    worn = set(np.unique(labels.material).tolist())
    materials, notes = list(defined), []
    for i, name in enumerate(labels.material_names):
        if name in number or i not in worn:
            continue
        number[name] = len(materials)
        materials.append(Material(name, stated=False))
        same = [other.name for other in defined if other.name.casefold() == name.casefold()]
        nearly = f"; a library defines `{same[0]}`" if same else ""
        notes.append(
            ReadNote(
                "material-not-defined",
                "error",
                f"material `{name}` is used, but no material library defines it{nearly}",
                "hand over the .mtl file that the export wrote beside the .obj, and name it in `mtllib`",
            )
        )
    return tuple(materials), number, notes


def _remaining_notes(source: ObjText, arrays: ObjArrays) -> list[ReadNote]:
    notes = []
    uv = arrays.corners[1]
    first_corner = np.cumsum(arrays.counts, dtype=np.int64) - arrays.counts
    bare = np.flatnonzero(uv[first_corner] < 0)
    if 0 < len(bare) < len(arrays.counts):
        line = int(arrays.lines[bare[0]])
        message = f"{len(bare)} of {len(arrays.counts)} faces have no UVs, first at line {line}"
        notes.append(ReadNote("faces-without-uv", "note", message, place=f"line {line}"))
    if not source.complete:
        message = "the last line has no line end; that is allowed, but a file cut off by a copy looks the same"
        notes.append(ReadNote("no-final-line-end", "note", message))
    return notes
