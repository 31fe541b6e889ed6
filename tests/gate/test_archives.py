"""Archives: what comes out, and that nothing hostile does."""

from __future__ import annotations

import gzip
import io
import stat
import tarfile
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.gate.bench import NOW, Bench
from tidegate.errors import LimitExceeded, UnreadableFile
from tidegate.gate import one_drop
from tidegate.gate.archive_limits import ArchiveLimits
from tidegate.gate.archives import unpack

LIMITS = ArchiveLimits(bytes=10_000_000, ratio=50.0, files=20, depth=4)


def zipped(
    path: Path, members: dict[str, bytes], change: Callable[[zipfile.ZipInfo], None] = lambda info: None
) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in members.items():
            info = zipfile.ZipInfo(name)
            info.compress_type = zipfile.ZIP_DEFLATED
            change(info)
            packed.writestr(info, data)
    return path


def tarred(path: Path, *members: tuple[tarfile.TarInfo, bytes]) -> Path:
    with tarfile.open(path, "w:gz") as packed:
        for info, data in members:
            info.size = len(data)
            packed.addfile(info, io.BytesIO(data))
    return path


def tar_info(name: str, kind: bytes = tarfile.REGTYPE, link: str = "") -> tarfile.TarInfo:
    info = tarfile.TarInfo(name)
    info.type, info.linkname = kind, link
    return info


def test_zip_and_tar_give_the_same_files(tmp_path: Path) -> None:
    members = {"crate/crate.obj": b"mesh", "crate/maps/a.png": b"map", "./b.txt": b""}
    zipped(tmp_path / "a.zip", {**members, "crate/empty/": b""})
    tarred(
        tmp_path / "a.tar.gz",
        (tar_info("crate", tarfile.DIRTYPE), b""),
        *((tar_info(name), data) for name, data in members.items()),
    )
    for name in ("a.zip", "a.tar.gz"):
        target = tmp_path / f"from-{name}"
        unpack(tmp_path / name, target, LIMITS)
        found = {p.relative_to(target).as_posix(): p.read_bytes() for p in target.rglob("*") if p.is_file()}
        assert found == {"crate/crate.obj": b"mesh", "crate/maps/a.png": b"map", "b.txt": b""}
        assert {p.stat().st_mode & 0o7000 for p in target.rglob("*")} == {0}


OUTSIDE = ["../../etc/passwd", "/etc/passwd", "a/../../b", "C:\\x", "C:x", "..\\b", "\\\\server\\share\\x"]


@pytest.mark.parametrize("name", OUTSIDE)
@pytest.mark.parametrize("kind", ["zip", "tar.gz"])
def test_no_member_leads_outside(tmp_path: Path, name: str, kind: str) -> None:
    archive = tmp_path / f"a.{kind}"
    if kind == "zip":
        zipped(archive, {name: b"x"}, lambda info: setattr(info, "filename", name))
    else:
        tarred(archive, (tar_info(name), b"x"))
    with pytest.raises(UnreadableFile, match="outside"):
        unpack(archive, tmp_path / "out", LIMITS)
    assert {path.name for path in tmp_path.rglob("*")} == {archive.name, "out"}


@pytest.mark.parametrize("kind", [tarfile.SYMTYPE, tarfile.LNKTYPE, tarfile.CHRTYPE, tarfile.BLKTYPE, tarfile.FIFOTYPE])
def test_no_links_and_devices_from_tar(tmp_path: Path, kind: bytes) -> None:
    archive = tarred(tmp_path / "a.tgz", (tar_info("x", kind, "/etc/passwd"), b""), (tar_info("x/y"), b"z"))
    with pytest.raises(UnreadableFile, match="link or device"):
        unpack(archive, tmp_path / "out", LIMITS)
    assert list((tmp_path / "out").iterdir()) == []


def test_no_links_from_zip(tmp_path: Path) -> None:
    def link(info: zipfile.ZipInfo) -> None:
        info.external_attr = (stat.S_IFLNK | 0o777) << 16

    with pytest.raises(UnreadableFile, match="link or device"):
        unpack(zipped(tmp_path / "a.zip", {"x": b"/etc/passwd"}, link), tmp_path / "out", LIMITS)


def test_both_sides_of_each_limit(tmp_path: Path) -> None:
    def limits_of(name: str, members: dict[str, bytes], limits: ArchiveLimits) -> bool:
        archive = zipped(tmp_path / f"{name}.zip", members)
        try:
            unpack(archive, tmp_path / name, limits)
        except LimitExceeded:
            return False
        return True

    flat = ArchiveLimits(bytes=1000, ratio=1e9, files=2, depth=2)
    assert limits_of("bytes", {"a": b"x" * 600, "b": b"x" * 400}, flat)
    assert not limits_of("more-bytes", {"a": b"x" * 600, "b": b"x" * 401}, flat)
    assert limits_of("files", {"a": b"", "b": b""}, flat)
    assert not limits_of("more-files", {"a": b"", "b": b"", "c": b""}, flat)
    assert limits_of("depth", {"a/b": b""}, flat)
    assert not limits_of("more-depth", {"a/b/c": b""}, flat)
    # 4,000,000 equal bytes deflate to about 1/1000 (4 KB): a ratio of 50 allows 200 KB, but always 1 MiB.
    assert not limits_of("ratio", {"a": b"x" * 4_000_000}, LIMITS)
    assert limits_of("small", {"a": b"x" * (1 << 20)}, LIMITS)


def test_a_tar_that_states_less_than_it_holds_is_counted_while_it_is_read(tmp_path: Path) -> None:
    archive = tarred(tmp_path / "a.tar.gz", (tar_info("a"), b"x" * 4_000_000))
    with pytest.raises(LimitExceeded):
        unpack(archive, tmp_path / "out", LIMITS)


def test_two_members_of_one_name(tmp_path: Path) -> None:
    with pytest.raises(UnreadableFile, match="one name"):
        unpack(zipped(tmp_path / "a.zip", {"a/X.png": b"1", "a/x.png": b"2"}), tmp_path / "out", LIMITS)
    with pytest.raises(UnreadableFile, match="file and a folder"):
        unpack(zipped(tmp_path / "b.zip", {"a/b": b"1", "a": b"2"}), tmp_path / "out2", LIMITS)


def test_every_truncation_is_refused_cleanly(tmp_path: Path) -> None:
    whole = zipped(tmp_path / "w.zip", {"a.obj": b"mesh" * 20}).read_bytes()
    packed = tarred(tmp_path / "w.tar.gz", (tar_info("a.obj"), b"mesh" * 20)).read_bytes()
    for kind, data in (("zip", whole), ("tar.gz", packed)):
        for length in range(0, len(data), 7):
            archive = tmp_path / f"{length}.{kind}"
            archive.write_bytes(data[:length])
            with pytest.raises(UnreadableFile):
                unpack(archive, tmp_path / f"out-{kind}-{length}", LIMITS)


def test_an_archive_becomes_its_prop_and_is_kept(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    zipped(bench.paths.inbox / "buoy.zip", {"buoy/buoy.obj": b"mesh", "buoy/maps/a.png": b"map"})
    data = (bench.paths.inbox / "buoy.zip").read_bytes()
    one, two = bench.through()
    assert sorted(path for path, _, _ in one.record.files) == ["buoy.obj", "maps/a.png"]
    assert (two.at.parent, (two.at / "archive/buoy.zip").read_bytes()) == (bench.paths.kept, data)


def test_a_bad_archive_goes_aside_whole_with_the_reason(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    archive = zipped(bench.paths.inbox / "slip.zip", {"../x": b"1"}, lambda info: setattr(info, "filename", "../x"))
    data = archive.read_bytes()
    taken = bench.claim()
    with pytest.raises(UnreadableFile) as caught:
        one_drop.prepare(taken, bench.layout, bench.rules)
    (each,) = one_drop.refuse_archive(taken, caught.value, bench.layout, NOW, lambda delivered: None)
    assert (each.at / "slip.zip").read_bytes() == data
    assert "../x" in (each.at / f"{each.record.prop}.tidegate.txt").read_text()


def test_a_bomb_of_empty_gzip_members_ends(tmp_path: Path) -> None:
    (tmp_path / "a.tar.gz").write_bytes(gzip.compress(b"") * 10_000)
    with pytest.raises(UnreadableFile):
        unpack(tmp_path / "a.tar.gz", tmp_path / "out", LIMITS)


def test_a_wrong_checksum_is_the_archives_fault_and_not_the_disks(tmp_path: Path) -> None:
    data = bytearray(gzip.compress(b"x" * 2000))
    data[-6] ^= 1  # CRC32 of the content (RFC 1952, 2.3.1)
    (tmp_path / "a.tar.gz").write_bytes(data)
    with pytest.raises(UnreadableFile):
        unpack(tmp_path / "a.tar.gz", tmp_path / "out", LIMITS)


@pytest.mark.parametrize("names", [("a", "a/b"), ("a/b", "a"), ("A", "a/b/c")])
def test_a_name_that_is_a_file_and_a_folder_is_refused(tmp_path: Path, names: tuple[str, str]) -> None:
    archive = zipped(tmp_path / "x.zip", dict.fromkeys(names, b"1"))
    with pytest.raises(UnreadableFile, match="a file and a folder"):
        unpack(archive, tmp_path / "out", LIMITS)


@pytest.mark.parametrize("kind", ["zip", "tar.gz"])
@pytest.mark.parametrize(("letter", "count"), [("x", 251), ("船", 83)])
def test_both_sides_of_the_longest_name(tmp_path: Path, kind: str, letter: str, count: int) -> None:
    """255 bytes fit (NAME_MAX of Linux): 251 letters of one byte and `.glb`; 83 of three are 249, and 84 are 252."""
    for more, fits in ((0, True), (1, False)):
        name = f"a/{letter * (count + more)}.glb"
        archive = tmp_path / f"{more}.{kind}"
        if kind == "zip":
            zipped(archive, {name: b"x"})
        else:
            tarred(archive, (tar_info(name), b"x"))
        if fits:
            unpack(archive, tmp_path / f"out{more}", LIMITS)
            assert (tmp_path / f"out{more}" / name).read_bytes() == b"x"
        else:
            with pytest.raises(UnreadableFile, match="too long"):
                unpack(archive, tmp_path / f"out{more}", LIMITS)
