"""One door to every mesh reader: looks at the first bytes and the suffix, and calls the reader that fits."""

from __future__ import annotations

from tidegate.errors import NoReader
from tidegate.model.mesh import MeshFile

from .limits import DEFAULT_LIMITS, ReadLimits
from .references import DropFolder

# Formats that are known and not read: by suffix, and by how their files start.
_NOT_READ_SUFFIXES = {
    "fbx": "FBX",
    "dae": "COLLADA",
    "usd": "USD",
    "usda": "USD",
    "usdc": "USD",
    "usdz": "USD",
    "3ds": "3DS",
    "abc": "Alembic",
    "x3d": "X3D",
    "3mf": "3MF",
    "x": "X",
}
_NOT_READ_STARTS = (
    (b"Kaydara FBX Binary", "FBX"),
    (b"; FBX", "FBX"),
    (b"#usda", "USD"),
    (b"PXR-USDC", "USD"),
    (b"Ogawa", "Alembic"),
)
_READERS = {"gltf": "gltf", "glb": "gltf", "obj": "obj", "ply": "ply", "stl": "stl"}


def read_mesh(
    folder: DropFolder, path: str, *, unit: float = 1.0, up_axis: str = "y", limits: ReadLimits = DEFAULT_LIMITS
) -> MeshFile:
    """Reads a mesh file of the drop, whatever its format.

    path: relative to the drop. unit, up_axis: metres per file unit and the axis that points up ("y" or "z"), for
    formats that state neither (OBJ, PLY, STL); glTF states both. What a file is shows in its first bytes where the
    format has a signature, else in its suffix. Raises UnreadableFile, with NoReader for formats without a reader here
    and LimitExceeded; all name the file.
    """
    suffix = path.rpartition(".")[2].lower()
    head = folder.read_head(path, 1024)
    for start, name in _NOT_READ_STARTS:
        if head.startswith(start):
            raise no_reader(path, name)
    reader = _by_content(head) or _READERS.get(suffix, "")
    if reader == "gltf":
        from .gltf import read_gltf

        return read_gltf(folder, path, limits)
    if reader == "ply":
        from .ply import read_ply

        return read_ply(folder, path, unit=unit, up_axis=up_axis, limits=limits)
    if reader == "stl":
        from .stl import read_stl

        return read_stl(folder, path, unit=unit, up_axis=up_axis, limits=limits)
    if reader == "obj":
        from .obj import read_obj

        return read_obj(folder, path, unit=unit, up_axis=up_axis, limits=limits)
    raise no_reader(path, _NOT_READ_SUFFIXES.get(suffix, ""))


def no_reader(path: str, name: str) -> NoReader:
    """The error for a format without a reader here. name: of the format, "" when it is not known."""
    return NoReader(
        f"there is no {name} reader here" if name else "this is no mesh format known here",
        path=path,
        expected="glTF 2.0 (.glb, .gltf), OBJ, PLY or STL",
        done="it was not read",
        help="export the mesh as GLB, or as OBJ with its material library, and hand that over",
    )


def _by_content(head: bytes) -> str:
    if head.startswith(b"glTF"):
        return "gltf"
    return "ply" if head.startswith((b"ply\n", b"ply\r")) else ""
