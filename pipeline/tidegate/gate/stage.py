"""Builds the folder of one prop beside its target: files, sidecars, record, manifest; all synced and read back."""

from __future__ import annotations

import os
import posixpath
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from tidegate.errors import TransientFault

from . import durable, handed
from .faults import shown
from .handed import Handed
from .manifest import MANIFEST, manifest_bytes
from .names import same_to_some


@dataclass(frozen=True, slots=True)
class Source:
    """A file to hand over: where it is, and where in the prop's folder it goes."""

    at: Path
    path: str


def sources(root: Path, paths: Sequence[tuple[str, str]], *, fold: bool = False) -> tuple[Source, ...]:
    """Sources from (path under root, path in the prop's folder) pairs, the latter kept as they are but for two cases.

    A file that has the name of our record or manifest gets `dropped-` before it. fold: so do files whose paths differ
    only in upper and lower case or accents from an earlier one, for trees that may not tell those apart.
    """
    taken = {same_to_some(handed.RECORD), same_to_some(MANIFEST)}
    exact: set[str] = set()
    made = []
    for path, wanted in paths:
        parent, last = posixpath.split(wanted)
        while (given := posixpath.join(parent, last)) in exact or same_to_some(given) in taken:
            last = f"dropped-{last}"
        exact.add(given)
        if fold:
            taken.add(same_to_some(given))
        made.append(Source(root / path, given))
    return tuple(made)


def stage(
    folder: Path,
    files_from: Sequence[Source],
    sidecars: Sequence[tuple[str, bytes]],
    record: Handed,
    judged: dict[str, str],
) -> tuple[Handed, str]:
    """Build `folder` (cleared first: an earlier try may have left it). Gives the finished record and the manifest's sha256.

    judged: path -> sha256 as it was judged; TransientFault when a file has become another one since.
    """
    durable.remove_copies(folder)
    # Never what is missing above it: the tree may go away any moment, and a bare mount point must not come to look like one.
    durable.make_folder(folder)
    home = os.fspath(folder)
    files: list[tuple[str, int, str]] = []
    for source in sorted(files_from, key=lambda source: source.path):
        proof = durable.copy_new(source.at, _target(home, source.path))
        if judged.get(source.path, proof.sha256) != proof.sha256:
            raise TransientFault(
                "a file changed after it was judged",
                path=shown(source.path),
                expected=f"sha256 {judged[source.path]}",
                came=f"sha256 {proof.sha256}",
                done="nothing was handed over",
                help="the drop is judged anew by itself",
            )
        files.append((source.path, proof.bytes, proof.sha256))
    ours: list[tuple[str, str]] = []
    for name, data in free_names(sidecars, [path for path, _, _ in files]):
        ours.append((name, durable.write_new(_target(home, name), data).sha256))
    finished = replace(record, files=tuple(files), sidecars=tuple(ours))
    own = durable.write_new(_target(home, handed.RECORD), handed.to_bytes(finished)).sha256
    listing = manifest_bytes([(path, sha256) for path, _, sha256 in files] + ours + [(handed.RECORD, own)])
    manifest = durable.write_new(_target(home, MANIFEST), listing).sha256
    for inner in _folders([path for path, _, _ in files] + [name for name, _ in ours]):
        durable.sync_folder(os.path.join(home, inner))
    durable.sync_folder(home)
    durable.sync_folder(folder.parent)
    return finished, manifest


def _target(home: str, path: str) -> str:
    """Where a file goes, with the folder for it made."""
    for inner in reversed(_folders([path])):
        at = Path(home, inner)
        if not at.is_dir():
            durable.make_folder(at)
    return os.path.join(home, path)


def _folders(paths: Sequence[str]) -> list[str]:
    """Every folder that the paths lie in, innermost first."""
    found: set[str] = set()
    for path in paths:
        while path := posixpath.dirname(path):
            found.add(path)
    return sorted(found, reverse=True)


def free_names(sidecars: Sequence[tuple[str, bytes]], taken: Sequence[str]) -> list[tuple[str, bytes]]:
    """Sidecars under names that no file of the artist has, nor our record or manifest; upper and lower case the same.

    A prop called "handed" has a report of the record's name.
    """
    used = {same_to_some(path) for path in (*taken, handed.RECORD, MANIFEST)}
    named = []
    for name, data in sidecars:
        parent, last = posixpath.split(name)
        while (key := same_to_some(given := posixpath.join(parent, last))) in used:
            last = f"report-{last}"
        used.add(key)
        named.append((given, data))
    return named
