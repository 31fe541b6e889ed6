"""The manifest: read by GNU coreutils itself, whatever the names."""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.gate.manifest import MANIFEST, faults_in, manifest_bytes, read_manifest

NAMES = [
    b"crate.obj",
    b"maps/cr ate.png",
    b"line\nfeed.png",
    b"back\\slash.png",
    b"cr\rname",
    b"caf\xe9.png",
    b"\xc3\xa9.png",
    b" x",
    b"\\n",
]


def test_known_lines() -> None:
    # Escaping as the GNU coreutils manual, "md5sum invocation", describes it.
    digest = hashlib.sha256(b"").hexdigest()
    assert digest.startswith("e3b0c442")
    assert manifest_bytes([("a", digest)]) == f"{digest}  a\n".encode()
    assert manifest_bytes([("a\nb", digest)]) == f"\\{digest}  a\\nb\n".encode()
    assert manifest_bytes([("a\\b", digest)]) == f"\\{digest}  a\\\\b\n".encode()


@pytest.mark.skipif(not shutil.which("sha256sum"), reason="GNU coreutils is not here")
def test_sha256sum_accepts_it_and_notices_a_change(tmp_path: Path) -> None:
    pairs = []
    for number, name in enumerate(NAMES):
        path = tmp_path / os.fsdecode(name)
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"%d" % number)
        pairs.append((os.fsdecode(name), hashlib.sha256(b"%d" % number).hexdigest()))
    (tmp_path / MANIFEST).write_bytes(manifest_bytes(pairs))
    check = ["sha256sum", "-c", "--strict", "--quiet", MANIFEST]
    assert subprocess.run(check, cwd=tmp_path, capture_output=True).returncode == 0
    assert faults_in(tmp_path) == []
    (tmp_path / os.fsdecode(NAMES[2])).write_bytes(b"x")
    assert subprocess.run(check, cwd=tmp_path, capture_output=True).returncode == 1
    assert faults_in(tmp_path) == ["line\nfeed.png: other content"]


def test_faults_name_what_is_missing_and_what_is_more(tmp_path: Path) -> None:
    digest = hashlib.sha256(b"a").hexdigest()
    (tmp_path / MANIFEST).write_bytes(manifest_bytes([("a", digest), ("b", digest)]))
    (tmp_path / "a").write_bytes(b"a")
    (tmp_path / "c").write_bytes(b"c")
    assert faults_in(tmp_path) == ["b: No such file or directory", "c: not listed"]
    assert faults_in(tmp_path, "0" * 64) == [f"{MANIFEST}: not the one that was written"]
    (tmp_path / MANIFEST).unlink()
    assert len(faults_in(tmp_path)) == 1


@given(st.lists(st.binary(min_size=1, max_size=12).filter(lambda name: b"\0" not in name), unique=True))
@settings(max_examples=60, deadline=None)
def test_what_is_written_is_read_back(names: list[bytes]) -> None:
    pairs = [(os.fsdecode(name), hashlib.sha256(name).hexdigest()) for name in names]
    assert sorted(read_manifest(manifest_bytes(pairs))) == sorted(pairs)


@pytest.mark.parametrize(
    "line", [b"short  a\n", b"0" * 64 + b" a\n", b"\\" + b"0" * 64 + b"  a\\x\n", b"0" * 64 + b"  \n"]
)
def test_other_lines_are_refused(line: bytes) -> None:
    with pytest.raises(ValueError):
        read_manifest(line)
