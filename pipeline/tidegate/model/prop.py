"""A drop, the props it holds, and the files they are made of."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .image_header import ImageHeader
    from .mesh import MeshFile
    from .name_scheme import NameReading
    from .reference import ReadNote


@dataclass(frozen=True, slots=True)
class DropFile:
    """One file of a drop as found on the disk. path: relative to the drop, "/" between parts.

    kind: "mesh", "mesh part" (a buffer), "material library", "map", "master", "report" (our own, ignored), "other".
    sha256: hex, filled while the file is read for judging; "" when only listed.
    location: where it can be opened, absolute. library: it lies in a read-only library folder, not in the drop.
    note: why it is not looked into, such as a link that leads outside the drop; "" for ordinary files.
    changed: when it was last written, as its folder lists it, in nanoseconds since 1970; 0 where that is not known. It never
    decides anything, and files that differ in it alone are the same.
    """

    path: str
    kind: str
    bytes: int
    location: str
    sha256: str = ""
    library: bool = False
    note: str = ""
    changed: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Binding:
    """A map bound to a slot of a material, for one variant.

    material: its name, "" where the prop states none. mesh_file: path of the mesh file that wears it.
    file: path of the map as in `DropFile.path`, or "embedded:N" for image N inside the mesh file ("embedded:N of FILE"
    where several mesh files of the prop hold pictures); always the `path` of one of the prop's maps.
    how: "reference", "name", or "both". channels: see MapSlot. tile: UDIM number or None. variant: "" for the plain one.
    disagreement: file that the names would have bound here, when the reference says otherwise; where no file has the
    right name, the slot that the name of `file` states; else "".
    """

    mesh_file: str
    material: str
    slot: str
    file: str
    how: str
    channels: str = ""
    uv_layer: int = 0
    tile: int | None = None
    variant: str = ""
    disagreement: str = ""


@dataclass(frozen=True, slots=True)
class TextureMap:
    """A texture map of the prop: one picture file with its header. slots: every slot it is bound to."""

    path: str
    location: str
    header: ImageHeader
    slots: tuple[str, ...] = ()
    variant: str = ""
    tile: int | None = None
    sha256: str = ""
    library: bool = False
    blob: bytes | None = None  # the bytes of an embedded picture


@dataclass(frozen=True, slots=True)
class Master:
    """A layered master file. map: path of the flat map it is the master of, "" when no map has its name."""

    path: str
    location: str
    header: ImageHeader
    map: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Prop:
    """One deliverable thing.

    name: the asset field of its names, else the stem of its mesh. fields: every name field read (category, asset,
    version ...). files: everything that travels with it, sorted by path. stray: files of the drop that no prop claims
    (listed with the first prop). readings: how each name was read, by the names scheme.
    missing_maps: slot references that led nowhere stand in `meshes[..].references`.
    doubles: further exports of the same mesh in the same role (OBJ beside GLB); they travel along, are compared with
    the one in `meshes`, and are not measured a second time.
    """

    name: str
    meshes: tuple[MeshFile, ...] = ()
    maps: tuple[TextureMap, ...] = ()
    masters: tuple[Master, ...] = ()
    bindings: tuple[Binding, ...] = ()
    files: tuple[DropFile, ...] = ()
    fields: tuple[tuple[str, str], ...] = ()
    variants: tuple[str, ...] = ("",)
    stray: tuple[str, ...] = ()
    readings: tuple[NameReading, ...] = ()
    notes: tuple[tuple[str, ReadNote], ...] = ()
    unreadable: tuple[tuple[str, str, str], ...] = ()  # path, what is wrong, what to do
    doubles: tuple[MeshFile, ...] = ()

    def field(self, name: str) -> str:
        """Value of a name field, "" when the names state none."""
        return dict(self.fields).get(name, "")


@dataclass(frozen=True, slots=True)
class Drop:
    """What an artist put into an inbox. root: folder the paths are relative to. name: folder or stem.

    is_folder: `name` is the name the artist gave a folder, so it is read by the names scheme.
    """

    name: str
    root: str
    files: tuple[DropFile, ...] = field(default=())
    is_folder: bool = False
