"""Replays the recorded disk calls of a run with everything dropped that was not synced: what a power cut leaves.

Two disks are modelled, the ends between which real ones lie:
    lazy   nothing reaches the disk before its fsync: a folder's names by fsync of the folder, a file's bytes by fsync of
           the file
    eager  removals and renames reach the disk at once, new names and bytes only by their fsync
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

CALLS = "openat,write,fsync,fdatasync,close,mkdir,rename,renameat2,link,unlink,rmdir"


@dataclass(eq=False)
class Node:
    """A file (`data`) or folder (`names`), as the system sees it and as the disk has it."""

    folder: bool
    data: str = ""
    data_on_disk: str = ""
    names: dict[str, Node] = field(default_factory=dict)
    names_on_disk: dict[str, Node] = field(default_factory=dict)


class Disk:
    """What a power cut would leave, after each call."""

    def __init__(self, tops: list[Path], *, eager: bool) -> None:
        self.eager = eager
        self.root = Node(True)
        for top in tops:
            for path in [*reversed(top.parents), top, *sorted(top.rglob("*"))]:
                if str(path) == "/":
                    continue
                data = path.read_text("utf-8", "replace") if path.is_file() else ""
                parent = self.at(path.parent)
                assert parent is not None, "parents come first"
                node = parent.names.get(path.name) or Node(path.is_dir(), data, data)
                parent.names[path.name] = parent.names_on_disk[path.name] = node

    def at(self, path: Path) -> Node | None:
        node: Node | None = self.root
        for part in path.parts[1:]:
            node = node.names.get(part) if node else None
        return node

    def create(self, path: Path, *, folder: bool) -> None:
        parent = self.at(path.parent)
        if parent is not None and path.name not in parent.names:
            parent.names[path.name] = Node(folder)

    def write(self, path: Path, text: str) -> None:
        if node := self.at(path):
            node.data += text

    def sync(self, path: Path) -> None:
        if node := self.at(path):
            node.data_on_disk = node.data
            node.names_on_disk = dict(node.names)

    def move(self, source: Path, target: Path, *, keep: bool = False) -> None:
        old, new = self.at(source.parent), self.at(target.parent)
        assert old is not None and new is not None, f"{source} -> {target}: unknown folder"
        node = old.names[source.name]
        new.names[target.name] = node
        if self.eager:
            new.names_on_disk[target.name] = node
        if not keep:
            self.remove(source)

    def remove(self, path: Path) -> None:
        parent = self.at(path.parent)
        if parent is None:
            return
        parent.names.pop(path.name, None)
        if self.eager:
            parent.names_on_disk.pop(path.name, None)

    def left(self, node: Node | None = None, path: str = "") -> Iterator[tuple[str, str]]:
        """(path, content) of every file the disk would have."""
        for name, inner in (node or self.root).names_on_disk.items():
            if inner.folder:
                yield from self.left(inner, f"{path}/{name}")
            else:
                yield f"{path}/{name}", inner.data_on_disk


def replay(log: str, disk: Disk) -> Iterator[str]:
    """Carry out each recorded call on the model; gives the call's text after each."""
    for line in log.splitlines():
        match = re.match(r"^\d+ +(\w+)\((.*)\) += (-?\d+)", line)
        if not match or match[3].startswith("-"):
            continue
        call, rest = match[1], match[2]
        texts = [Path(text) for text in re.findall(r'"((?:[^"\\]|\\.)*)"', rest)]
        handle = re.match(r"\d+<([^>]*)>", rest)
        if call == "openat" and "O_CREAT" in rest:
            disk.create(texts[0], folder=False)
        elif call == "mkdir":
            disk.create(texts[0], folder=True)
        elif call == "write" and handle:
            disk.write(Path(handle[1]), rest.split('"', 1)[1].rsplit('"', 1)[0].replace("\\n", "\n"))
        elif call in ("fsync", "fdatasync") and handle:
            disk.sync(Path(handle[1]))
        elif call in ("rename", "renameat2") and disk.at(texts[0]) is not None:
            disk.move(texts[0], texts[1])
        elif call == "link" and disk.at(texts[0]) is not None:
            disk.move(texts[0], texts[1], keep=True)
        elif call in ("unlink", "rmdir"):
            disk.remove(texts[0])
        else:
            continue
        yield line[:200]


def broken_promises(log: str, disk: Disk, nonces: list[str]) -> list[str]:
    """Every instant of the run at which a power cut would lose a nonce, or leave a version that is not whole.

    disk: made before the run. The first ten suffice.
    """
    wrong: list[str] = []
    for call in replay(log, disk):
        files = dict(disk.left())
        held = "\0".join(files.values())
        wrong += [f"{nonce} is gone after {call}" for nonce in nonces if nonce not in held]
        for version in sorted(
            {path.split("/v0")[0] + path[path.index("/v0") :][:5] for path in files if "/v0" in path}
        ):
            manifest = files.get(f"{version}/manifest-sha256.txt", "")
            listed = [line[66:] for line in manifest.splitlines()]
            wrong += [f"{version} has no manifest after {call}"] if not manifest else []
            wrong += [
                f"{version}/{name} is empty after {call}" for name in listed if not files.get(f"{version}/{name}")
            ]
        if len(wrong) > 10:
            break
    return wrong
