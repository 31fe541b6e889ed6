"""What a gate is told: where things lie, by which rules it waits, and the three questions it asks about file contents.

Frozen records without pydantic: the configuration is mapped onto these, so the gate stands without it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from .archive_limits import ArchiveLimits


@dataclass(frozen=True, slots=True)
class GatePaths:
    """The folders of one gate, absolute. name: of the gate, one path component. owner: in whose name it delivers.

    delivery, returned, aside and kept are its trees: each must be one volume of its own or of another; the gate stages
    inside each. Several gates may share trees, never an inbox or a work folder.
    kept: archives that were unpacked, and what a mended file took the place of.
    """

    name: str
    inbox: Path
    work: Path
    delivery: Path
    returned: Path
    aside: Path
    kept: Path
    owner: str = ""

    @property
    def trees(self) -> tuple[Path, ...]:
        return (self.delivery, self.returned, self.aside, self.kept)


@dataclass(frozen=True, slots=True)
class GateRules:
    """How a gate waits and what it does not look at. Times in seconds of the monotonic clock.

    quiet: nothing of a drop may have changed for this long. wait: how long a mesh waits for textures it names, and a
    folder for its partial files. ready_file: a drop settles only when a file of this name is in it ("" for none);
    it is then claimed at once, without the quiet time.
    partial: name patterns of files still being copied; a loose one is not seen, one in a folder holds the folder up.
    litter: name patterns of files that are never part of a drop and stay where they are.
    meshes: suffixes by which loose files are grouped and lone mended files told apart, lower case with the dot.
    maps: suffixes of flat pictures: a mended one takes the place of a returned one of the same stem. Those that layered
    masters have are left out, since a master lies beside its map under the same stem.
    first_pause, longest_pause: between tries of a step that may heal; each pause doubles.
    """

    quiet: float = 5.0
    wait: float = 120.0
    stalled: float = 1800.0
    ready_file: str = ""
    partial: tuple[str, ...] = (
        "*.part",
        "*.partial",
        "*.tmp",
        "*.temp",
        "*.crdownload",
        "*.filepart",
        "*.swp",
        "~*",
        ".~*",
    )
    litter: tuple[str, ...] = ("Thumbs.db", "desktop.ini", ".DS_Store", "._*", ".nfs*", ".fuse_hidden*")
    meshes: tuple[str, ...] = (
        ".glb",
        ".gltf",
        ".obj",
        ".ply",
        ".stl",
        ".fbx",
        ".dae",
        ".usd",
        ".usda",
        ".usdc",
        ".usdz",
    )
    maps: tuple[str, ...] = (".png", ".jpg", ".jpeg", ".tga", ".bmp", ".webp", ".exr")
    first_pause: float = 2.0
    longest_pause: float = 600.0
    archive_limits: ArchiveLimits = field(default_factory=ArchiveLimits)


@dataclass(frozen=True, slots=True)
class Questions:
    """What the gate asks about contents, answered by those who can read them. All must answer in bounded time.

    complete(path): True the file is whole by its own format, False it is not yet, None the format does not tell.
    wanted(path): names of files a mesh refers to (as written, "/" between parts), () for anything else.
    group(names): loose file names (relative to the inbox) that belong together; None uses `grouping.by_name`.
    """

    complete: Callable[[Path], bool | None] = lambda path: None
    wanted: Callable[[Path], Sequence[str]] = lambda path: ()
    group: Callable[[Sequence[str]], Sequence[Sequence[str]]] | None = None
