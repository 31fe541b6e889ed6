"""Writing small OBJ drops for tests."""

from __future__ import annotations

from pathlib import Path

from tidegate.load.obj import read_obj
from tidegate.load.references import DropFolder
from tidegate.model.mesh import MeshFile
from tidegate.model.reference import ReadNote

SQUARE = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\n"
SQUARE_UV = "vt 0 0\nvt 1 0\nvt 1 1\nvt 0 1\n"


def read_text(folder: Path, text: str | bytes, files: dict[str, str | bytes] | None = None, **how: object) -> MeshFile:
    """Writes `crate.obj` and other files into the folder and reads it."""
    for name, content in {**(files or {}), "crate.obj": text}.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content.encode() if isinstance(content, str) else content)
    return read_obj(DropFolder(folder), "crate.obj", **how)


def notes_of(mesh: MeshFile, code: str) -> list[ReadNote]:
    return [note for note in mesh.notes if note.code == code]


def codes(mesh: MeshFile) -> list[str]:
    return [note.code for note in mesh.notes]
