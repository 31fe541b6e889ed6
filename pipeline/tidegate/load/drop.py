"""From the files of a drop to its props: meshes read, maps bound, masters found, every name read, every file accounted for."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from tidegate.model.mesh import MeshFile
from tidegate.model.name_scheme import NameReading, NameScheme
from tidegate.model.portable_names import comparable
from tidegate.model.prop import Drop, DropFile, Master, Prop, TextureMap
from tidegate.model.reference import ReadNote

from .bindings import Bound, NamedMap, bind, named_map
from .drop_files import FOUND, DropFiles, HeaderReader
from .library_maps import library_maps
from .listing import NOT_LISTED
from .mesh_groups import MeshGroup, group_meshes, read_mesh_names
from .named_files import named_files
from .prop_names import inner_readings, prop_fields

if TYPE_CHECKING:
    from .limits import ReadLimits

MeshReader = Callable[..., MeshFile]


def read_props(
    drop: Drop,
    scheme: NameScheme,
    *,
    unit: float,
    up_axis: str,
    limits: ReadLimits | None = None,
    libraries: Sequence[Path] = (),
    assets: Iterable[str] = (),
    read_mesh: MeshReader | None = None,
    read_header: HeaderReader | None = None,
) -> tuple[Prop, ...]:
    """The props of a drop, sorted by name; () when it holds neither a mesh nor a map nor a master.

    unit, up_axis: of mesh files that state neither. libraries: read-only folders where maps may lie too. assets:
    names of ordered assets; where a drop has no mesh, they tell where in a map's name the asset ends. read_mesh,
    read_header: the readers, replaced in tests. A mesh that cannot be read is told in `Prop.unreadable`, a map in the
    problem of its header; nothing is raised for a bad file.
    """
    return _Reading(drop, scheme, tuple(libraries), tuple(assets), read_header).props(
        _mesh_reader(drop, unit, up_axis, limits, libraries, read_mesh)
    )


def _mesh_reader(
    drop: Drop,
    unit: float,
    up_axis: str,
    limits: ReadLimits | None,
    libraries: Sequence[Path],
    read_mesh: MeshReader | None,
) -> Callable[[str], MeshFile]:
    from .limits import DEFAULT_LIMITS
    from .references import DropFolder

    if read_mesh is None:
        from .mesh_file import read_mesh as read_any_mesh

        read_mesh = read_any_mesh
    inside = tuple(file.path for file in drop.files if not file.note)
    folder = DropFolder(Path(drop.root), inside, tuple(libraries))
    chosen, reader = limits or DEFAULT_LIMITS, read_mesh

    def read(path: str) -> MeshFile:
        return reader(folder, path, unit=unit, up_axis=up_axis, limits=chosen)

    return read


@dataclass(slots=True)
class _Draft:
    """A prop while it is put together."""

    group: MeshGroup
    maps: dict[str, TextureMap] = field(default_factory=dict)
    named: list[NamedMap] = field(default_factory=list)
    masters: list[Master] = field(default_factory=list)
    files: set[str] = field(default_factory=set)
    readings: list[NameReading] = field(default_factory=list)
    bound: Bound = field(default_factory=lambda: Bound((), ("",)))


class _Reading:
    """Reads one drop. Headers are read once, however many props share a map."""

    def __init__(
        self,
        drop: Drop,
        scheme: NameScheme,
        libraries: tuple[Path, ...],
        ordered: tuple[str, ...],
        read_header: HeaderReader | None,
    ) -> None:
        if read_header is None:
            from .image_header import read_header as read_any_header

            read_header = read_any_header
        self._drop = drop
        self._scheme = scheme
        self._libraries = libraries
        self._ordered = ordered
        self._files = DropFiles(drop, scheme, read_header)

    def props(self, read: Callable[[str], MeshFile]) -> tuple[Prop, ...]:
        meshes = [file.path for file in self._files.files.values() if file.kind == "mesh" and not file.note]
        names = read_mesh_names(meshes, self._scheme)
        groups = group_meshes(names, self._scheme, lambda path: self._files.with_tiles(read(path)))
        drafts = [_Draft(group) for group in groups] or self._drafts_without_mesh()
        if not drafts:
            return ()
        assets = tuple(dict.fromkeys(draft.group.asset for draft in drafts))
        referenced = self._referenced(drafts)
        # Whatever a mesh uses as a picture is one, whatever it is called, even a guide sheet of ours.
        self._files.files.update((file.path, file) for file in self._drop.files if file.path in referenced)
        pictures = [
            file
            for file in self._files.files.values()
            if (file.kind in ("map", "master") or file.path in referenced) and not file.note
        ]
        flat, layered = self._files.flat_and_layered(pictures, referenced, assets)
        for draft in drafts:
            self._claim_maps(draft, drafts, flat, assets)
            self._claim_masters(draft, drafts, layered, assets)
            self._claim_references(draft)
        self._claim_what_cannot_be_told(drafts)
        # Names alone may promise more props than there are files: one whose every file went to another is none.
        drafts = [draft for draft in drafts if draft.files or draft.group.readings] or drafts[:1]
        stray = sorted(set(self._files.files).difference(*(draft.files for draft in drafts)))
        done = [self._prop(draft, assets, drafts, stray if draft is drafts[0] else []) for draft in drafts]
        return tuple(sorted(done, key=lambda prop: prop.name))

    # Which file is what ------------------------------------------------------------------------------------------

    def _drafts_without_mesh(self) -> list[_Draft]:
        """Maps and masters alone: one prop an asset. Those that state none go with the only asset there is."""
        found: dict[str, str] = {}
        nameless = False
        for file in self._files.files.values():
            if file.kind in ("map", "master") and not file.note:
                asset = self._files.name(file.path, file.kind, self._ordered).field("asset")
                nameless |= not asset
                if asset:
                    found.setdefault(comparable(asset), asset)
        if nameless and len(found) != 1:
            found.setdefault(comparable(self._drop.name), self._drop.name)
        return [_Draft(MeshGroup(found[key])) for key in sorted(found)]

    def _referenced(self, drafts: Sequence[_Draft]) -> set[str]:
        return {path for draft in drafts for mesh in _all_meshes(draft) for path in self._files.pictures_of(mesh)}

    # What belongs to a prop --------------------------------------------------------------------------------------

    def _claim_maps(
        self, draft: _Draft, drafts: Sequence[_Draft], flat: Sequence[DropFile], assets: tuple[str, ...]
    ) -> None:
        own = {path for mesh in _all_meshes(draft) for path in self._files.pictures_of(mesh)}
        embedding = [mesh for mesh in draft.group.meshes if any(one.blob is not None for one in mesh.references)]
        files_of: dict[tuple[str, int], list[str]] = {}
        for mesh in draft.group.meshes:
            for number, reference in enumerate(mesh.references):
                if reference.kind != "image":
                    continue
                files_of[mesh.path, number] = self._files.files_of(mesh, number)
                if reference.status == "embedded" and reference.blob is not None:
                    key = f"embedded:{number}" + (f" of {mesh.path}" if len(embedding) > 1 else "")
                    header = self._files.header_of_bytes(reference.blob, reference.name)
                    draft.maps[key] = TextureMap(key, "", header, blob=reference.blob)
                    files_of[mesh.path, number] = [key]
        for file in flat:
            reading = self._files.name(file.path, "map", assets)
            if file.path in own or self._is_of(reading, draft, drafts):
                draft.named.append(named_map(file.path, reading, self._scheme))
                draft.maps[file.path] = TextureMap(file.path, file.location, self._files.header(file.path))
                draft.files.add(file.path)
        for mesh in draft.group.meshes:
            for reference in mesh.references:
                if reference.kind == "image" and reference.library and reference.path:
                    self._add_library_map(draft, reference.path, assets)
        for path in library_maps(self._libraries, draft.group.asset):
            reading = self._files.name(path, "map", assets)
            if comparable(reading.field("asset")) == comparable(draft.group.asset) and reading.field("map"):
                self._add_library_map(draft, path, assets)
        slots = [slot for word in self._scheme.parts.slots for slot, _ in self._scheme.slots_of(word)]
        draft.bound = bind(draft.group.meshes, draft.named, files_of, draft.group.asset, slots)

    def _add_library_map(self, draft: _Draft, path: str, assets: tuple[str, ...]) -> None:
        if path in draft.maps:
            return
        reading = self._files.name(path, "map", assets)
        draft.named.append(named_map(path, reading, self._scheme, library=True))
        draft.maps[path] = TextureMap(path, path, self._files.header_at(Path(path), path), library=True)

    def _is_of(self, reading: NameReading, draft: _Draft, drafts: Sequence[_Draft]) -> bool:
        asset = reading.field("asset")
        if asset:
            return comparable(asset) == comparable(draft.group.asset)
        if draft.group.readings:
            return len(drafts) == 1 and bool(reading.field("map"))
        return len(drafts) == 1 or comparable(draft.group.asset) == comparable(self._drop.name)

    def _claim_masters(
        self, draft: _Draft, drafts: Sequence[_Draft], layered: Sequence[DropFile], assets: tuple[str, ...]
    ) -> None:
        by_identity = {self._files.identity(path, "map", assets): path for path in sorted(draft.maps, reverse=True)}
        for file in layered:
            reading = self._files.name(file.path, "master", assets)
            of_map = by_identity.get(self._files.identity(file.path, "master", assets), "")
            if of_map or self._is_of(reading, draft, drafts):
                draft.masters.append(Master(file.path, file.location, self._files.header(file.path), of_map))
                draft.readings.append(reading)
                draft.files.add(file.path)

    def _claim_references(self, draft: _Draft) -> None:
        """Mesh files, and what they name: buffers and material libraries travel with them."""
        for mesh in _all_meshes(draft):
            draft.files.add(mesh.path)
            for reference in mesh.references:
                if reference.path in self._files.files and reference.status in FOUND:
                    draft.files.add(reference.path)
        for path, _, _ in draft.group.unreadable:
            draft.files.add(path)
            base = path.rpartition("/")[0]
            for text in named_files(Path(self._files.files[path].location)):
                inner = f"{base}/{text}" if base else text
                if inner in self._files.files and self._files.files[inner].kind in ("mesh part", "material library"):
                    draft.files.add(inner)

    def _claim_what_cannot_be_told(self, drafts: Sequence[_Draft]) -> None:
        """A mesh that cannot be read may name any file that is left, so such files go with it and are not called stray."""
        broken = next((draft for draft in drafts if draft.group.unreadable), None)
        if broken is None:
            return
        held = set().union(*(draft.files for draft in drafts))
        for file in self._files.files.values():
            if file.path not in held and not file.note and file.kind not in ("mesh", "other"):
                broken.files.add(file.path)

    # The record --------------------------------------------------------------------------------------------------

    def _prop(self, draft: _Draft, assets: tuple[str, ...], drafts: Sequence[_Draft], stray: Sequence[str]) -> Prop:
        group = draft.group
        maps = [self._map(draft, one) for one in draft.maps.values()]
        mesh_readings = sorted(group.readings, key=lambda one: (_role_rank(one), one.path))
        folder = self._scheme.read(self._drop.name, "folder", "", assets) if self._drop.is_folder else None
        # A mesh that a material names as its picture has its name read as a mesh's, once.
        as_mesh = {one.path for one in group.readings}
        pictures = [one for one in maps if not one.library and one.blob is None and one.path not in as_mesh]
        map_readings = [self._map_reading(draft, one, assets) for one in pictures]
        readings = [*group.readings, *map_readings, *draft.readings]
        inner, inner_notes = inner_readings(group.meshes, self._scheme)
        if folder is not None and draft is drafts[0]:
            readings.insert(0, folder)
        notes = [*group.notes, *inner_notes, *self._crowded(draft)]
        unseen: list[tuple[str, str, str]] = []
        notes += [
            (one.path, ReadNote("name-in-doubt", "note", f"`{one.name}`, field {field}: {doubt}"))
            for one in readings
            for field, doubt in one.doubts
        ]
        if draft is drafts[0]:
            notes += [
                (
                    file.path,
                    ReadNote("not-looked-into", "warning", file.note, "hand over plain files"),
                )
                for file in self._files.files.values()
                if file.note and not file.note.startswith(NOT_LISTED)
            ]
            # Nobody knows what lies in such a folder, so the drop cannot be judged.
            unseen += [
                (file.path, file.note, "let the gate read it, or hand the drop over again")
                for file in self._files.files.values()
                if file.note.startswith(NOT_LISTED)
            ]
        return Prop(
            name=group.asset,
            meshes=tuple(group.meshes),
            maps=tuple(sorted(maps, key=lambda one: one.path)),
            masters=tuple(sorted(draft.masters, key=lambda one: one.path)),
            bindings=draft.bound.bindings,
            files=tuple(self._files.hashed(path) for path in sorted(draft.files)),
            fields=prop_fields(group.asset, mesh_readings or map_readings or draft.readings, folder),
            variants=draft.bound.variants,
            stray=tuple(stray),
            readings=(*readings, *inner),
            notes=tuple(notes),
            unreadable=(*group.unreadable, *unseen),
            doubles=tuple(group.doubles),
        )

    def _map(self, draft: _Draft, one: TextureMap) -> TextureMap:
        """The map with what its bindings, and where it has none its name, say of it."""
        bindings = [binding for binding in draft.bound.bindings if binding.file == one.path]
        named = next((name for name in draft.named if name.path == one.path), None)
        slots = [binding.slot for binding in bindings] or [slot for slot, _ in (named.slots if named else ())]
        variants = {binding.variant for binding in bindings} or ({named.variant} if named else {""})
        digest = self._files.hashed(one.path).sha256 if one.path in self._files.files else ""
        return replace(
            one,
            slots=tuple(sorted(set(slots))),
            variant=min(variants),
            tile=named.tile if named else None,
            sha256=digest,
        )

    def _map_reading(self, draft: _Draft, one: TextureMap, assets: tuple[str, ...]) -> NameReading:
        """The reading of a map's name; where the name says too little, what the mesh uses it for helps the proposal."""
        reading = self._files.name(one.path, "map", assets)
        if not reading.problems or reading.proposal or reading.field("map"):
            return reading
        word = next((word for word in self._scheme.parts.slots if _slots(self._scheme, word) == set(one.slots)), "")
        if not word:
            return reading
        name = PurePosixPath(one.path).name
        return self._scheme.read(name, "map", one.path, assets, {"map": word, "asset": draft.group.asset})

    def _crowded(self, draft: _Draft) -> list[tuple[str, ReadNote]]:
        return [
            (
                path,
                ReadNote(
                    "two-maps-one-slot",
                    "warning",
                    f"{path} and {chosen} state the same slot by their names; {chosen} was taken",
                    "keep one of them, or name the other after what it is for",
                ),
            )
            for path, chosen in draft.bound.crowded
            if not any(binding.file == path for binding in draft.bound.bindings)
        ]


def _all_meshes(draft: _Draft) -> Iterable[MeshFile]:
    return (*draft.group.meshes, *draft.group.doubles)


def _slots(scheme: NameScheme, word: str) -> set[str]:
    return {slot for slot, _ in scheme.slots_of(word)}


def _role_rank(reading: NameReading) -> tuple[bool, str]:
    role = reading.field("role") or "model"
    return role != "model", role
