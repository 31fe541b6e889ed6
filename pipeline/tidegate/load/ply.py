"""PLY files -> MeshFile. Ours, since polygons of several sizes in one binary file and their UVs must stay whole."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tidegate.errors import LimitExceeded, UnreadableFile
from tidegate.model.mesh import MapSlot, Material, MeshFile, MeshPart, UvLayer, frozen_array
from tidegate.model.reference import ReadNote

from .axes import y_up
from .limits import DEFAULT_LIMITS, ReadLimits
from .not_a_picture import described, pointer_text
from .ply_elements import Rows, read_elements
from .ply_header import read_header
from .polygons import triangulate
from .references import DropFolder, folder_of

# Names that exporters use for UVs of vertices; common practice, no source. The first pair found counts.
_UV_PAIRS = (("texture_u", "texture_v"), ("u", "v"), ("s", "t"), ("texture_s", "texture_t"))
_INDEX_NAMES = ("vertex_indices", "vertex_index")
_READ = {"vertex", "face"}


def read_ply(
    folder: DropFolder, path: str, *, unit: float = 1.0, up_axis: str = "y", limits: ReadLimits = DEFAULT_LIMITS
) -> MeshFile:
    """Reads a PLY file, text or binary.

    path: relative to the drop. unit: metres per file unit. up_axis: "y" or "z". UVs of vertices (`s t`, `u v`,
    `texture_u texture_v`) and of faces (`texcoord` lists) are both kept, the latter as the first layer; V is taken
    to point up, as is common practice. Raises UnreadableFile and LimitExceeded; both name the file.
    """
    try:
        return _read(folder, path, unit, up_axis, limits)
    except UnreadableFile as fault:
        fault.path = fault.path or path
        raise


def _read(folder: DropFolder, path: str, unit: float, up_axis: str, limits: ReadLimits) -> MeshFile:
    data = folder.read_bytes(path, limits.file_bytes)
    _refuse_others(data)
    header = read_header(data)
    for element in header.elements:
        most = limits.triangles if element.name == "face" else limits.vertices
        if element.rows > most:
            raise LimitExceeded(
                f"the PLY states more {element.name} rows than the limits allow",
                expected=f"at most {most:,}",
                came=f"{element.rows:,}",
            )
    with np.errstate(invalid="ignore"):  # some NaNs speak up when they are widened; they are counted below
        elements, left = read_elements(data, header)
    notes = _leftovers(elements, left)
    parts = _parts(elements, unit, up_axis, notes, len(header.textures))
    if not parts:
        notes.append(
            ReadNote("no-triangles", "error", "the file holds no triangles", help="export the mesh with faces")
        )
    references = tuple(
        folder.resolve(name, base=folder_of(path), kind="image", percent_encoded=False) for name in header.textures
    )
    materials = tuple(
        Material("", (MapSlot("base_color", "rgb", "TextureFile", number),)) for number in range(len(references))
    )
    return MeshFile(
        path=path,
        format="ply",
        parts=parts,
        materials=materials,
        references=references,
        notes=tuple(notes),
        unit=unit,
        unit_stated=False,
        up_axis=up_axis,
    )


def _refuse_others(data: bytes) -> None:
    if not data:
        raise UnreadableFile("the file is empty", came="zero bytes", help="copy or export it again")
    if pointer_text(data[:1024]):
        raise UnreadableFile(
            "this is the pointer text of a large-file store; the mesh itself was not fetched",
            help="fetch the large files of the repository, then hand over again",
        )
    if data[:3] != b"ply" or data[3:4] not in (b"\n", b"\r"):
        raise UnreadableFile(
            "this is no PLY file",
            expected='a first line "ply"',
            came=described(data[:1024]) or f"bytes {data[:8].hex(' ')}",
            help="export the mesh again",
        )


def _leftovers(elements: dict[str, Rows], left: int) -> list[ReadNote]:
    notes = []
    if left:
        notes.append(
            ReadNote("bytes-after-end", "warning", "the PLY goes on after its last row; the rest was left out")
        )
    for name in elements:
        if name not in _READ:
            notes.append(ReadNote("unknown-element", "warning", f"the PLY element {name[:60]!r} is not read"))
    return notes


def _parts(
    elements: dict[str, Rows], unit: float, up_axis: str, notes: list[ReadNote], textures: int
) -> tuple[MeshPart, ...]:
    vertices, faces = elements.get("vertex", Rows()), elements.get("face", Rows())
    if any(axis not in vertices.single for axis in "xyz"):
        raise UnreadableFile("the PLY has no vertices with x, y and z", help="export the mesh again")
    name = next((name for name in _INDEX_NAMES if name in faces.lists), "")
    if not name:
        if any(len(lengths) for lengths, _ in faces.lists.values()) or faces.single:
            raise UnreadableFile("the faces of the PLY name no vertices", expected="a list vertex_indices")
        return ()
    with np.errstate(over="ignore"):
        positions = y_up(np.stack([vertices.single[axis] for axis in "xyz"], axis=1), up_axis) * unit
    _note_bad_positions(positions, notes)
    corners, flat = faces.lists[name]
    numbers = flat.astype(np.int64) if np.isfinite(flat).all() else np.full(len(flat), -1)
    if len(numbers) and (numbers.min() < 0 or numbers.max() >= len(positions)):
        worst = int(numbers.min() if numbers.min() < 0 else numbers.max())
        raise UnreadableFile(
            "a face of the PLY leads to a vertex that is not there",
            expected=f"0 to {len(positions) - 1:,}",
            came=f"{worst:,}",
            help="export the mesh again",
        )
    starts = np.cumsum(corners) - corners
    whole = corners >= 3
    if not whole.all():
        notes.append(
            ReadNote("short-faces", "warning", f"{int((~whole).sum()):,} faces have fewer than three corners; left out")
        )
    if not whole.any():
        return ()
    uv_layers = _uv_layers(vertices, faces, corners, starts, notes)
    texture = _texture_of(faces, textures, len(corners))
    normals = _stacked(vertices, ("nx", "ny", "nz"))
    parts = []
    for number in np.unique(texture[whole]).tolist():
        kept = np.flatnonzero(whole & (texture == number))
        parts.append(_part(number, kept, positions, numbers, corners, starts, uv_layers, normals, up_axis, vertices))
    return tuple(parts)


def _part(
    texture: int,
    kept: NDArray[np.int64],
    positions: NDArray[np.float64],
    numbers: NDArray[np.int64],
    corners: NDArray[np.int64],
    starts: NDArray[np.int64],
    uv_layers: list[tuple[str, NDArray[np.float64], NDArray[np.int64]]],
    normals: NDArray[np.float64] | None,
    up_axis: str,
    vertices: Rows,
) -> MeshPart:
    """The faces of one texture. kept: their numbers."""
    counts = corners[kept]
    within = np.arange(int(counts.sum())) - np.repeat(np.cumsum(counts) - counts, counts)
    at = np.repeat(starts[kept], counts) + within  # where each corner stands in the file's list
    laid = [(uv, of_corner[at].astype(np.int32)) for _, uv, of_corner in uv_layers[:1]]
    cut = triangulate(positions, numbers[at].astype(np.int32), counts.astype(np.int32), *laid)
    triangles = frozen_array(numbers[at][cut.corners].astype(np.int32))
    layers = []
    for index, (name, uv, of_corner) in enumerate(uv_layers):
        layers.append(UvLayer(index, name, frozen_array(uv), frozen_array(of_corner[at][cut.corners].astype(np.int32))))
    return MeshPart(
        node="",
        mesh="",
        material=texture,
        positions=frozen_array(positions),
        triangles=triangles,
        uv_layers=tuple(layers),
        normals=None if normals is None else frozen_array(y_up(normals, up_axis)),
        normal_triangles=None if normals is None else triangles,
        colors=_colors(vertices),
        polygon=frozen_array(np.asarray(cut.polygon, dtype=np.int32)),
        polygon_corners=frozen_array(counts.astype(np.int32)),
    )


def _uv_layers(
    vertices: Rows, faces: Rows, corners: NDArray[np.int64], starts: NDArray[np.int64], notes: list[ReadNote]
) -> list[tuple[str, NDArray[np.float64], NDArray[np.int64]]]:
    """(name, uv, row of uv for each corner of the file, -1 none) of each layer."""
    layers = []
    total = int(corners.sum())
    if "texcoord" in faces.lists:
        lengths, values = faces.lists["texcoord"]
        fits = lengths == 2 * corners
        wrong = int((~fits & (lengths > 0)).sum())
        if wrong:
            notes.append(ReadNote("uv-count", "error", f"{wrong:,} faces have another number of UVs than of corners"))
        first = (np.cumsum(lengths) - lengths) // 2
        within = np.arange(total) - np.repeat(starts, corners)
        of_corner = np.where(np.repeat(fits, corners), np.repeat(first, corners) + within, -1)
        if (lengths % 2).any():  # an odd list would shift every pair behind it
            raise UnreadableFile("a texcoord list of the PLY has an odd length", help="export the mesh again")
        layers.append(("texcoord", values.reshape(-1, 2), of_corner))
    number = faces.lists[next(name for name in _INDEX_NAMES if name in faces.lists)][1].astype(np.int64)
    for pair in _UV_PAIRS:
        uv = _stacked(vertices, pair)
        if uv is not None:
            layers.append((" ".join(pair), uv, number))
            break
    return layers


def _texture_of(faces: Rows, textures: int, rows: int) -> NDArray[np.int64]:
    """Number of the texture file of each face, -1 none."""
    numbers = faces.single.get("texnumber")
    if numbers is not None and textures > 1 and np.isfinite(numbers).all():
        whole = numbers.astype(np.int64)
        return np.where((whole >= 0) & (whole < textures), whole, -1)
    return np.full(rows, 0 if textures else -1, dtype=np.int64)


def _colors(vertices: Rows) -> NDArray[np.float64] | None:
    for names in (("red", "green", "blue", "alpha"), ("red", "green", "blue")):
        colors = _stacked(vertices, names)
        if colors is not None:
            # Whole numbers are 0..255, broken ones 0..1: common practice, no source.
            whole = bool((colors == np.floor(colors)).all()) and bool((colors > 1.0).any())
            return frozen_array(colors / 255.0 if whole else colors)
    return None


def _stacked(rows: Rows, names: tuple[str, ...]) -> NDArray[np.float64] | None:
    if any(name not in rows.single for name in names):
        return None
    return np.stack([rows.single[name] for name in names], axis=1)


def _note_bad_positions(positions: NDArray[np.float64], notes: list[ReadNote]) -> None:
    bad = int((~np.isfinite(positions)).any(axis=1).sum())
    if bad:
        notes.append(
            ReadNote(
                "bad-positions",
                "error",
                f"{bad:,} of {len(positions):,} vertices have a position that is not a number",
                help="clean the mesh and export again",
            )
        )
