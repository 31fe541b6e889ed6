"""Names in archives: in no known letters, of devices, alike but for case; each comes out as it is or is refused by name."""

from __future__ import annotations

import os
import struct
import tarfile
from pathlib import Path

import pytest

from tests.gate.bench import Bench
from tests.gate.test_archives import LIMITS, tar_info, tarred, zipped
from tidegate.errors import UnreadableFile
from tidegate.gate import archive_members
from tidegate.gate.archives import unpack

UTF8_FLAG = 0x800  # bit 11 of the general purpose flags, APPNOTE 4.4.4


def zip_of_bytes(path: Path, name: bytes, flags: int = 0) -> Path:
    """A ZIP of one stored empty member whose name is these bytes, written from APPNOTE 4.3.7, 4.3.12 and 4.3.16."""
    local = struct.pack("<4s5H3I2H", b"PK\x03\x04", 20, flags, 0, 0, 0x21, 0, 0, 0, len(name), 0) + name
    head = struct.pack("<4s6H3I5H2I", b"PK\x01\x02", 20, 20, flags, 0, 0, 0x21, 0, 0, 0, len(name), 0, 0, 0, 0, 0, 0)
    central = head + name
    end = struct.pack("<4s4H2IH", b"PK\x05\x06", 0, 0, 1, 1, len(central), len(local), 0)
    path.write_bytes(local + central + end)
    return path


def came_out(folder: Path) -> list[bytes]:
    """Names of files as the disk has them."""
    return [name for _, _, names in os.walk(os.fsencode(folder)) for name in names]


@pytest.mark.parametrize(
    ("name", "flags", "wanted"),
    [
        ("船.glb".encode(), UTF8_FLAG, "船.glb"),
        ("船.glb".encode(), 0, "船.glb"),  # as many packers write it
        ("café.glb".encode("cp437"), 0, "café.glb"),  # as the standard has it: é is 82 hex in code page 437
        (b"\xff\xfe.glb", 0, "\u00a0\u25a0.glb"),  # no UTF-8: FF is a no-break space there, FE a black square
    ],
)
def test_the_letters_of_a_name_in_a_zip(tmp_path: Path, name: bytes, flags: int, wanted: str) -> None:
    unpack(zip_of_bytes(tmp_path / "a.zip", name, flags), tmp_path / "out", LIMITS)
    assert came_out(tmp_path / "out") == [wanted.encode()]


def test_a_name_that_says_it_is_utf8_and_is_not(tmp_path: Path) -> None:
    with pytest.raises(UnreadableFile, match="says that it is UTF-8 and is not") as caught:
        unpack(zip_of_bytes(tmp_path / "a.zip", b"\xff.glb", UTF8_FLAG), tmp_path / "out", LIMITS)
    assert "\\xff.glb" in caught.value.came
    assert came_out(tmp_path / "out") == []


def test_a_name_with_a_zero_byte_is_not_cut_there(tmp_path: Path) -> None:
    with pytest.raises(UnreadableFile, match="outside") as caught:
        unpack(zip_of_bytes(tmp_path / "a.zip", b"a.glb\0.txt"), tmp_path / "out", LIMITS)
    assert "a.glb\\x00.txt" in caught.value.came


@pytest.mark.parametrize("format", [tarfile.USTAR_FORMAT, tarfile.GNU_FORMAT, tarfile.PAX_FORMAT])
def test_a_name_in_a_tar_keeps_its_bytes(tmp_path: Path, format: int) -> None:
    name = b"caf\xe9 \xff.glb"
    with tarfile.open(tmp_path / "a.tar.gz", "w:gz", format=format) as packed:
        packed.addfile(tarfile.TarInfo(os.fsdecode(name)))
    unpack(tmp_path / "a.tar.gz", tmp_path / "out", LIMITS)
    assert came_out(tmp_path / "out") == [name]


def test_a_long_name_in_no_known_letters_is_measured_in_its_own_bytes(tmp_path: Path) -> None:
    # 255 bytes fit (NAME_MAX of Linux); as text each of these would take three.
    for count, fits in ((255, True), (256, False)):
        archive = tarred(tmp_path / f"{count}.tar.gz", (tar_info(os.fsdecode(b"\xff" * count)), b""))
        if fits:
            unpack(archive, tmp_path / "out", LIMITS)
            assert came_out(tmp_path / "out") == [b"\xff" * count]
        else:
            with pytest.raises(UnreadableFile, match="too long"):
                unpack(archive, tmp_path / "out2", LIMITS)


RESERVED = ["CON", "aux.glb", "Nul", "com1.png", "LPT9.txt", "ends.", "ends ", "a:b", "bell\x07"]


@pytest.mark.parametrize("kind", ["zip", "tar.gz"])
@pytest.mark.parametrize("inner", ["{}", "maps/{}", "{}/a.png"])
@pytest.mark.parametrize("name", RESERVED)
def test_names_that_windows_would_bend(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, inner: str, kind: str
) -> None:
    """Plain names on a disk that holds them; where they mean something else, the archive is refused by name."""
    path = inner.format(name)
    archive = tmp_path / f"a.{kind}"
    if kind == "zip":
        zipped(archive, {path: b"x"})
    else:
        tarred(archive, (tar_info(path), b"x"))
    if path.startswith("a:"):  # looks like a drive, and is one on Windows
        with pytest.raises(UnreadableFile, match="outside"):
            unpack(archive, tmp_path / "out", LIMITS)
        return
    if os.name != "nt":
        unpack(archive, tmp_path / "out", LIMITS)
        assert (tmp_path / "out" / path).read_bytes() == b"x"
    with monkeypatch.context() as on_windows:
        on_windows.setattr(archive_members, "os", Windows)
        with pytest.raises(UnreadableFile, match="cannot be held here"):
            unpack(archive, tmp_path / "out2", LIMITS)
        assert came_out(tmp_path / "out2") == []


class Windows:
    """The one thing that the reading of names asks the system."""

    name = "nt"


def test_ordinary_names_are_no_trouble_on_windows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    names = ["console.glb", "com10.png", ".hidden", "two words.png", "船.png", "a/nullify/b.png"]
    zipped(tmp_path / "a.zip", dict.fromkeys(names, b"x"))
    monkeypatch.setattr(archive_members, "os", Windows)
    unpack(tmp_path / "a.zip", tmp_path / "out", LIMITS)
    assert len(came_out(tmp_path / "out")) == len(names)


@pytest.mark.parametrize("kind", ["zip", "tar.gz"])
@pytest.mark.parametrize(
    ("one", "two"),
    [
        ("maps/Wood.png", "maps/wood.png"),
        ("Maps/wood.png", "maps/wood.png"),
        ("caf\u00e9.png", "cafe\u0301.png"),  # one letter, or a letter and its accent: one name after NFC
        ("stra\u00dfe.png", "STRASSE.png"),  # Unicode's full case folding
        ("a.png", "./a.png"),
    ],
)
def test_paths_that_differ_only_in_case_or_form(tmp_path: Path, one: str, two: str, kind: str) -> None:
    archive = tmp_path / f"a.{kind}"
    if kind == "zip":
        zipped(archive, {one: b"1", two: b"2"})
    else:
        tarred(archive, (tar_info(one), b"1"), (tar_info(two), b"2"))
    with pytest.raises(UnreadableFile, match="two members have one name") as caught:
        unpack(archive, tmp_path / "out", LIMITS)
    assert one in caught.value.came and two in caught.value.came


def test_folders_that_differ_only_in_case_may_hold_different_files(tmp_path: Path) -> None:
    zipped(tmp_path / "a.zip", {"Maps/a.png": b"1", "maps/b.png": b"2"})
    unpack(tmp_path / "a.zip", tmp_path / "out", LIMITS)
    assert sorted(came_out(tmp_path / "out")) == [b"a.png", b"b.png"]


def test_an_archive_of_odd_names_comes_through_whole(tmp_path: Path) -> None:
    """From the inbox to its place: the files under their own names, the archive kept."""
    bench = Bench(tmp_path)
    names = [os.fsdecode(b"caf\xe9.png"), "CON.png", "ends. "]
    archive = tarred(bench.paths.inbox / "buoy.tar.gz", *((tar_info(name), b"x%d" % n) for n, name in enumerate(names)))
    data = archive.read_bytes()
    one, kept = bench.through()
    assert {path: (one.at / path).read_bytes() for path, _, _ in one.record.files} == {
        name: b"x%d" % n for n, name in enumerate(names)
    }
    assert (kept.at / "archive/buoy.tar.gz").read_bytes() == data
