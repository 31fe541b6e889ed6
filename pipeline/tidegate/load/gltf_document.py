"""A glTF file opened: its JSON with lists that are known to be lists, its limits, and the notes gathered so far."""

from __future__ import annotations

from dataclasses import dataclass, field

from tidegate.model.reference import ReadNote

from .gltf_values import Json, objects
from .limits import ReadLimits
from .references import DropFolder

_PLACES_SHOWN = 20


@dataclass(slots=True, eq=False)
class GltfDocument:
    """What every part of the reader works on. notes is the one thing that grows while reading.

    binary: the BIN chunk of a GLB. triangles_left, vertices_left, unbacked_left: what is left of the sums that
    ReadLimits bounds over the whole file.
    """

    path: str
    folder: DropFolder
    json: Json
    binary: memoryview | None
    limits: ReadLimits
    notes: list[ReadNote] = field(default_factory=list)
    _noted: dict[tuple[str, str, str], dict[str, None]] = field(default_factory=dict, init=False)
    triangles_left: int = field(init=False)
    vertices_left: int = field(init=False)
    unbacked_left: int = field(init=False)
    accessors: list[Json] = field(init=False)
    views: list[Json] = field(init=False)
    buffers: list[Json] = field(init=False)
    images: list[Json] = field(init=False)
    textures: list[Json] = field(init=False)
    samplers: list[Json] = field(init=False)
    materials: list[Json] = field(init=False)
    meshes: list[Json] = field(init=False)
    nodes: list[Json] = field(init=False)
    scenes: list[Json] = field(init=False)
    used_extensions: tuple[str, ...] = field(init=False)
    required_extensions: tuple[str, ...] = field(init=False)

    def __post_init__(self) -> None:
        limits, root = self.limits, self.json
        self.triangles_left, self.vertices_left = limits.triangles, limits.vertices
        self.unbacked_left = limits.unbacked_elements
        self.accessors = objects(root, "accessors", "", limits.accessors)
        self.views = objects(root, "bufferViews", "", limits.accessors)
        self.buffers = objects(root, "buffers", "", limits.accessors)
        self.images = objects(root, "images", "", limits.images)
        self.textures = objects(root, "textures", "", limits.images)
        self.samplers = objects(root, "samplers", "", limits.images)
        self.materials = objects(root, "materials", "", limits.materials)
        self.meshes = objects(root, "meshes", "", limits.meshes)
        self.nodes = objects(root, "nodes", "", limits.nodes)
        self.scenes = objects(root, "scenes", "", limits.nodes)
        self.used_extensions = self._names("extensionsUsed")
        self.required_extensions = self._names("extensionsRequired")

    def note(self, code: str, level: str, message: str, *, place: str = "", help: str = "") -> None:
        """Adds a note, once. Of the same message at many places the first twenty are kept and the rest counted."""
        places = self._noted.setdefault((code, level, message), {})
        if place in places:
            return
        places[place] = None
        if len(places) <= _PLACES_SHOWN:
            self.notes.append(ReadNote(code, level, message, help=help, place=place))

    def all_notes(self) -> tuple[ReadNote, ...]:
        """The notes, with one more for each message that had more places than were kept."""
        more = [
            ReadNote(code, level, f"{message}; the same at {len(places) - _PLACES_SHOWN:,} more places")
            for (code, level, message), places in self._noted.items()
            if len(places) > _PLACES_SHOWN
        ]
        return (*self.notes, *more)

    def _names(self, key: str) -> tuple[str, ...]:
        values = self.json.get(key, [])
        names = [value for value in values if isinstance(value, str)] if isinstance(values, list) else []
        if not isinstance(values, list) or len(names) != len(values):
            self.note("damaged-list", "warning", f"{key} is no list of names")
        return tuple(dict.fromkeys(names))
