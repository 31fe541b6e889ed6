"""What an archive may unpack to: exactly at each limit, and one beyond it, for both kinds."""

from __future__ import annotations

import gzip
import io
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

from tests.gate.test_archives import tar_info, tarred, zipped
from tidegate.errors import LimitExceeded
from tidegate.gate import archive_members
from tidegate.gate.archive_limits import ArchiveLimits
from tidegate.gate.archives import unpack

KINDS = ["zip", "tar.gz"]
FLAT = ArchiveLimits(bytes=1000, ratio=1e9, files=3, depth=2)
RATIO = 50
PACKED = 40_000  # bytes that each archive of the ratio has: 50 times that is 2,000,000, beyond the free MiB


def packed(path: Path, members: dict[str, bytes]) -> Path:
    if path.suffix == ".zip":
        return zipped(path, members)
    return tarred(path, *((tar_info(name), data) for name, data in members.items()))


def fits(archive: Path, limits: ArchiveLimits) -> bool:
    try:
        unpack(archive, archive.with_name(f"out-{archive.name}"), limits)
    except LimitExceeded:
        return False
    return True


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    ("at", "beyond"),
    [
        ({"a": b"x" * 600, "b": b"x" * 400}, {"a": b"x" * 600, "b": b"x" * 401}),
        ({"a": b"x" * 1000}, {"a": b"x" * 1001}),
        (dict.fromkeys("abc", b""), dict.fromkeys("abcd", b"")),
        ({"a/b": b""}, {"a/b/c": b""}),
    ],
    ids=["bytes", "bytes-of-one", "files", "depth"],
)
def test_at_the_limit_and_one_beyond(tmp_path: Path, kind: str, at: dict[str, bytes], beyond: dict[str, bytes]) -> None:
    assert fits(packed(tmp_path / f"at.{kind}", at), FLAT)
    assert not fits(packed(tmp_path / f"beyond.{kind}", beyond), FLAT)


def test_empty_folders_are_no_files(tmp_path: Path) -> None:
    assert fits(packed(tmp_path / "a.zip", {"a": b"", "b": b"", "c": b"", "d/": b"", "e/": b""}), FLAT)


def zip_of_a_length(path: Path, content: int) -> Path:
    """`content` equal bytes, packed to PACKED bytes: a comment at the end fills it up."""
    zipped(path, {"a": b"x" * content})
    rest = PACKED - path.stat().st_size
    with zipfile.ZipFile(path, "a") as archive:
        archive.comment = b" " * rest
    return path


def tar_of_a_length(path: Path, content: int) -> Path:
    """The same: a comment in the gzip header (flag 16, ended by a zero byte; RFC 1952, 2.3.1) fills it up."""
    plain = io.BytesIO()
    with tarfile.open(fileobj=plain, mode="w") as archive:
        info = tar_info("a")
        info.size = content
        archive.addfile(info, io.BytesIO(b"x" * content))
    whole = gzip.compress(plain.getvalue(), mtime=0)
    assert whole[3] == 0, "no other field stands between the ten bytes of the header and the data"
    comment = b" " * (PACKED - len(whole) - 1) + b"\0"
    path.write_bytes(whole[:3] + b"\x10" + whole[4:10] + comment + whole[10:])
    return path


@pytest.mark.parametrize("kind", KINDS)
def test_the_ratio_exactly_and_one_byte_beyond(tmp_path: Path, kind: str) -> None:
    make = zip_of_a_length if kind == "zip" else tar_of_a_length
    limits = ArchiveLimits(bytes=10_000_000, ratio=float(RATIO), files=3, depth=2)
    for content, wanted in ((RATIO * PACKED, True), (RATIO * PACKED + 1, False)):
        archive = make(tmp_path / f"{content}.{kind}", content)
        assert archive.stat().st_size == PACKED
        assert fits(archive, limits) is wanted, content


@pytest.mark.parametrize("kind", KINDS)
def test_below_a_mebibyte_the_ratio_is_not_looked_at(tmp_path: Path, kind: str) -> None:
    limits = ArchiveLimits(bytes=10_000_000, ratio=1.0, files=3, depth=2)
    assert fits(packed(tmp_path / f"at.{kind}", {"a": b"x" * (1 << 20)}), limits)
    assert not fits(packed(tmp_path / f"beyond.{kind}", {"a": b"x" * ((1 << 20) + 1)}), limits)


def test_the_list_of_a_zip_at_its_limit_and_beyond(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Each entry is 46 bytes and its name (APPNOTE 4.3.12). Before the list, Python reads the 22 bytes at the end (4.3.16) and
    # the 20 before, where a ZIP64 locator would stand (4.3.15).
    archive = zipped(tmp_path / "a.zip", {"a": b"", **{f"{n:04}/": b"" for n in range(100)}})
    taken = 22 + 20 + (46 + 1) + 100 * (46 + 5)
    monkeypatch.setattr(archive_members, "ZIP_ENTRY", 0)
    monkeypatch.setattr(archive_members, "FREE_LIST", taken)
    assert fits(archive, FLAT)
    monkeypatch.setattr(archive_members, "FREE_LIST", taken - 1)
    (tmp_path / "again").mkdir()
    with pytest.raises(LimitExceeded, match="names and headers"):
        unpack(archive, tmp_path / "again/out", FLAT)


def test_a_tar_of_folders_without_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archive_members, "TAR_HEADER", 0)
    monkeypatch.setattr(archive_members, "FREE_LIST", 100 * 512)
    folders = [(tar_info(f"{n}", tarfile.DIRTYPE), b"") for n in range(99)]
    # The file, 98 folders and the first block of zeros, which ends the list, are 100 blocks.
    assert fits(tarred(tmp_path / "at.tar.gz", (tar_info("a"), b""), *folders[:98]), FLAT)
    assert not fits(tarred(tmp_path / "beyond.tar.gz", (tar_info("a"), b""), *folders[:99]), FLAT)


BOMB = """
import resource, sys
from pathlib import Path
from tidegate.errors import LimitExceeded
from tidegate.gate.archive_limits import ArchiveLimits
from tidegate.gate.archives import unpack

def peak() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss

before = peak()
try:
    unpack(Path(sys.argv[1]), Path(sys.argv[2]), ArchiveLimits(files=1000))
except LimitExceeded as error:
    print(peak() - before, error.expected)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="reads the peak of memory as Linux gives it, in KiB")
@pytest.mark.parametrize("kind", [tarfile.XHDTYPE, tarfile.XGLTYPE, tarfile.GNUTYPE_LONGNAME, tarfile.GNUTYPE_LONGLINK])
def test_one_name_of_gigabytes_takes_no_memory(tmp_path: Path, kind: bytes) -> None:
    """The name stands before its member and is read whole: 256 MiB of it, packed into less than 2."""
    head = tar_info("x", kind)
    head.size = 256 << 20
    archive = tmp_path / "a.tar.gz"
    with gzip.open(archive, "wb", compresslevel=1) as out:
        out.write(head.tobuf(tarfile.USTAR_FORMAT))
        for _ in range(256):
            out.write(b"a" * (1 << 20))
    assert archive.stat().st_size < 2 << 20
    ran = subprocess.run(
        [sys.executable, "-c", BOMB, str(archive), str(tmp_path / "out")], capture_output=True, text=True, check=True
    )
    grown, told = ran.stdout.split(" ", 1)
    # 1 MiB, and 4 KiB for each of 1,000 files, are read before it ends; the buffers around that take some times as much.
    assert int(grown) < 40 << 10, "KiB"
    assert told.strip() == f"at most {(1 << 20) + 4096 * 1000} bytes of names and headers"
