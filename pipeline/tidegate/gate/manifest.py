"""`manifest-sha256.txt` as `sha256sum -c` of GNU coreutils reads it."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from pathlib import Path

from .faults import is_absent
from .proof import proof_of

MANIFEST = "manifest-sha256.txt"
_ESCAPES = ((b"\\", b"\\\\"), (b"\n", b"\\n"), (b"\r", b"\\r"))


def manifest_bytes(hashes: Iterable[tuple[str, str]]) -> bytes:
    """Lines `<sha256>  <path>`, sorted by path bytes. (path, sha256 hex) in.

    A path with a backslash, line feed or carriage return is written escaped, and its line then begins with a backslash
    (GNU coreutils manual, "md5sum invocation").
    """
    lines = []
    for path, sha256 in sorted(hashes, key=lambda pair: os.fsencode(pair[0])):
        name = os.fsencode(path)
        escaped = name
        for plain, written in _ESCAPES:
            escaped = escaped.replace(plain, written)
        lines.append((b"\\" if escaped != name else b"") + sha256.encode("ascii") + b"  " + escaped + b"\n")
    return b"".join(lines)


def read_manifest(data: bytes) -> list[tuple[str, str]]:
    """(path, sha256) of each line. Raises ValueError on a line that `manifest_bytes` would not write."""
    pairs = []
    for line in data.split(b"\n")[:-1]:
        escaped = line.startswith(b"\\")
        sha256, gap, name = line[escaped : 64 + escaped], line[64 + escaped : 66 + escaped], line[66 + escaped :]
        if gap != b"  " or not name:
            raise ValueError(f"not a manifest line: {line!r}")
        pairs.append((os.fsdecode(_unescaped(name) if escaped else name), sha256.decode("ascii")))
    return pairs


def faults_in(folder: Path, wanted: str = "", *, raising: bool = False) -> list[str]:
    """What is wrong with a handed folder, read whole: [] when every listed file is there with its hash and none is more.

    wanted: sha256 the manifest itself must have, "" for any. raising: a file that is there and cannot be read is no
    fault of the folder, its OSError is raised.
    """
    try:
        data = (folder / MANIFEST).read_bytes()
        pairs = read_manifest(data)
    except (OSError, ValueError) as error:
        if raising and isinstance(error, OSError) and not is_absent(error):
            raise
        return [f"{MANIFEST}: {error}"]
    if wanted and hashlib.sha256(data).hexdigest() != wanted:
        return [f"{MANIFEST}: not the one that was written"]
    faults = []
    for path, sha256 in pairs:
        try:
            if proof_of(folder / path).sha256 != sha256:
                faults.append(f"{path}: other content")
        except OSError as error:
            if raising and not is_absent(error):
                raise
            faults.append(f"{path}: {error.strerror}")
    listed = {path for path, _ in pairs} | {MANIFEST}
    extra = [p.relative_to(folder).as_posix() for p in sorted(folder.rglob("*")) if not p.is_dir() or p.is_symlink()]
    return faults + [f"{path}: not listed" for path in extra if path not in listed]


def _unescaped(name: bytes) -> bytes:
    plain, at = bytearray(), 0
    letters = {ord("\\"): b"\\", ord("n"): b"\n", ord("r"): b"\r"}
    while at < len(name):
        if name[at] == ord("\\"):
            if at + 1 >= len(name) or name[at + 1] not in letters:
                raise ValueError(f"not an escape: {name!r}")
            plain += letters[name[at + 1]]
            at += 2
        else:
            plain.append(name[at])
            at += 1
    return bytes(plain)
