"""References are resolved by directory listings, and never outside the drop."""

from __future__ import annotations

import os
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.errors import LimitExceeded, UnreadableFile
from tidegate.load.references import DropFolder, folder_of


def fill(root: Path, *files: str) -> Path:
    for file in files:
        place = root / file
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(file.encode())
    return root


def status_and_path(folder: DropFolder, text: str, base: str = "", uri: bool = False) -> tuple[str, str]:
    found = folder.resolve(text, base=base, kind="image", percent_encoded=uri)
    assert found.text == text
    assert found.kind == "image"
    return found.status, found.path


@pytest.fixture
def harbour(tmp_path: Path) -> Path:
    return fill(tmp_path / "drop", "bollard.glb", "maps/iron rust.png", "maps/Rope.png", "maps/deep/knot.png")


@pytest.mark.parametrize("listed", [True, False], ids=["files given", "listed lazily"])
@pytest.mark.parametrize(
    ("text", "base", "uri", "wanted"),
    [
        ("maps/iron rust.png", "", False, ("present", "maps/iron rust.png")),
        ("maps/iron%20rust.png", "", True, ("present", "maps/iron rust.png")),
        ("maps/iron%20rust.png", "", False, ("missing", "")),
        ("maps\\iron rust.png", "", False, ("present", "maps/iron rust.png")),
        (".\\maps\\deep\\..\\Rope.png", "", False, ("present", "maps/Rope.png")),
        ("../Rope.png", "maps/deep", False, ("present", "maps/Rope.png")),
        ("../../bollard.glb", "maps/deep", False, ("present", "bollard.glb")),
        ("maps//./Rope.png", "", False, ("present", "maps/Rope.png")),
        ("maps/rope.png", "", False, ("wrong-case", "maps/Rope.png")),
        ("MAPS/Rope.png", "", False, ("wrong-case", "maps/Rope.png")),
        ("maps/rope2.png", "", False, ("missing", "")),
        ("maps", "", False, ("missing", "")),
        ("maps/deep/", "", False, ("missing", "")),
        ("", "", False, ("missing", "")),
        (".", "", False, ("missing", "")),
        ("maps/Rope.png\0", "", False, ("missing", "")),
        ("bollard.glb/x.png", "", False, ("missing", "")),
        ("a" * 5000 + "/" + "b" * 5000, "", False, ("missing", "")),
    ],
)
def test_inside(harbour: Path, listed: bool, text: str, base: str, uri: bool, wanted: tuple[str, str]) -> None:
    files = ("bollard.glb", "maps/Rope.png", "maps/deep/knot.png", "maps/iron rust.png") if listed else None
    assert status_and_path(DropFolder(harbour, files), text, base, uri) == wanted


@pytest.mark.parametrize(
    "text",
    [
        "/etc/passwd",
        "//server/share/passwd",
        "\\\\server\\share\\passwd",
        "\\passwd",
        "C:\\maps\\passwd",
        "c:passwd",
        "file:///etc/passwd",
        "FILE:passwd",
        "http://example.org/passwd",
        "smb+x://host/passwd",
        "../passwd",
        "maps/../../passwd",
        "..\\..\\passwd",
        "../drop/passwd",
    ],
)
def test_outside_names_a_file_of_the_same_bare_name(harbour: Path, text: str) -> None:
    folder = DropFolder(harbour)
    assert status_and_path(folder, text) == ("outside", "")
    fill(harbour, "maps/passwd")
    assert status_and_path(DropFolder(harbour), text) == ("outside", "maps/passwd")


def test_percent_encoding_hides_nothing(harbour: Path) -> None:
    folder = DropFolder(harbour)
    for text in ("%2Fetc%2Fpasswd", "..%2f..%2fetc/passwd", "file%3A///etc/passwd", "%5C%5Cserver%5Cshare"):
        assert status_and_path(folder, text, uri=True)[0] == "outside"
    # Decoded once only: the second layer is part of the name.
    assert status_and_path(folder, "%252e%252e/bollard.glb", uri=True) == ("missing", "")


def test_outside_is_never_looked_at(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    root = fill(tmp_path / "drop", "a.png")
    fill(tmp_path, "secret.png")
    asked: list[str] = []
    for name in ("scandir", "stat", "lstat", "open", "readlink"):
        real = getattr(os, name)

        def spy(path: object, *more: object, _real: object = real, **named: object) -> object:
            asked.append(os.fspath(path))
            return _real(path, *more, **named)

        monkeypatch.setattr(os, name, spy)
    folder = DropFolder(root)
    for text in ("../secret.png", f"{tmp_path}/secret.png", f"file://{tmp_path}/secret.png", "a.png"):
        folder.resolve(text, base="", kind="image", percent_encoded=False)
    assert asked  # the spy works
    assert all(place == str(root) or place.startswith(f"{root}{os.sep}") for place in asked)


def test_unicode_normalisations_agree(tmp_path: Path) -> None:
    composed, split = (unicodedata.normalize(form, "möwe.png") for form in ("NFC", "NFD"))
    assert composed != split
    fill(tmp_path, split)
    assert status_and_path(DropFolder(tmp_path), composed) == ("present", split)
    assert status_and_path(DropFolder(tmp_path), composed.upper()) == ("wrong-case", split)


def test_the_very_name_wins_over_another_case(tmp_path: Path) -> None:
    files = ("Tex/a.png", "tex/A.png", "tex/b.png", "TEX/c.png")
    folder = DropFolder(tmp_path / "not made: names only", files)
    assert status_and_path(folder, "tex/A.png") == ("present", "tex/A.png")
    root = tmp_path / "d"
    fill(root, *files)
    if len(list(root.iterdir())) < 3:
        pytest.skip("this disk folds upper and lower case")
    assert status_and_path(DropFolder(root), "tex/A.png") == ("present", "tex/A.png")
    assert status_and_path(DropFolder(root), "tex/a.png") == ("wrong-case", "tex/A.png")
    assert status_and_path(DropFolder(root), "tex/c.png") == ("wrong-case", "TEX/c.png")


def test_a_name_that_is_not_utf8(tmp_path: Path) -> None:
    try:
        (tmp_path / os.fsdecode(b"net\xff.png")).write_bytes(b"x")
    except OSError:
        pytest.skip("this disk takes UTF-8 names only")
    folder = DropFolder(tmp_path)
    status, path = status_and_path(folder, "net%FF.png", uri=True)
    assert status == "present"
    assert folder.read_bytes(path, 10) == b"x"


def test_links_stay_inside(tmp_path: Path) -> None:
    fill(tmp_path, "secret.png", "away/secret.png")
    root = fill(tmp_path / "drop", "maps/a.png")
    links = {
        "abs.png": str(tmp_path / "secret.png"),
        "up.png": "../secret.png",
        "in.png": "maps/a.png",
        "maps/back.png": "../in.png",
        "out": "../away",
        "inner": "maps",
        "loop.png": "loop.png",
        "gone.png": "maps/none.png",
        "folder.png": "maps",
    }
    for name, target in links.items():
        (root / name).symlink_to(target)
    folder = DropFolder(root)
    assert status_and_path(folder, "abs.png") == ("outside", "")
    assert status_and_path(folder, "up.png") == ("outside", "")
    assert status_and_path(folder, "out/secret.png") == ("outside", "")
    assert status_and_path(folder, "in.png") == ("present", "in.png")
    assert status_and_path(folder, "maps/back.png") == ("present", "maps/back.png")
    assert status_and_path(folder, "inner/a.png") == ("present", "inner/a.png")
    assert status_and_path(folder, "loop.png") == ("missing", "")
    assert status_and_path(folder, "gone.png") == ("missing", "")
    assert status_and_path(folder, "folder.png") == ("missing", "")
    for path in ("in.png", "maps/back.png", "inner/a.png"):
        assert folder.read_bytes(path, 100) == b"maps/a.png"
    for path in ("abs.png", "up.png", "out/secret.png", "../secret.png", str(tmp_path / "secret.png")):
        with pytest.raises(UnreadableFile, match="outside") as caught:
            folder.read_bytes(path, 100)
        assert caught.value.path == path
    # A bare name is not found through a link that leaves either.
    assert status_and_path(folder, "/x/up.png") == ("outside", "")


def test_libraries_by_relative_path_then_by_name(tmp_path: Path) -> None:
    root = fill(tmp_path / "drop", "own/rope.png", "mesh/a.obj")
    library = fill(tmp_path / "library", "wood/plank.png", "deep/er/brass.png", "own/rope.png", "Sea.png")
    folder = DropFolder(root, libraries=(library,))

    def find(text: str, base: str = "") -> tuple[str, str, bool]:
        found = folder.resolve(text, base=base, kind="image", percent_encoded=False)
        return found.status, found.path, found.library

    assert find("own/rope.png") == ("present", "own/rope.png", False)
    assert find("wood/plank.png") == ("present", f"{library.as_posix()}/wood/plank.png", True)
    assert find("wood/plank.png", "mesh") == ("present", f"{library.as_posix()}/wood/plank.png", True)
    assert find("textures/brass.png") == ("present", f"{library.as_posix()}/deep/er/brass.png", True)
    assert find("sea.png") == ("wrong-case", f"{library.as_posix()}/Sea.png", True)
    assert find("D:/lib/brass.png") == ("outside", f"{library.as_posix()}/deep/er/brass.png", True)
    assert find("D:/lib/rope.png") == ("outside", "own/rope.png", False)
    assert find("nowhere.png") == ("missing", "", False)
    assert folder.read_bytes(f"{library.as_posix()}/Sea.png", 99) == b"Sea.png"
    with pytest.raises(UnreadableFile, match="outside"):
        folder.read_bytes(f"{library.as_posix()}/../drop/mesh/a.obj", 99)


def test_read_limit_has_two_sides(tmp_path: Path) -> None:
    (tmp_path / "ten").write_bytes(b"0123456789")
    folder = DropFolder(tmp_path)
    assert folder.read_bytes("ten", 10) == b"0123456789"
    with pytest.raises(LimitExceeded) as caught:
        folder.read_bytes("ten", 9)
    assert (caught.value.expected, caught.value.came) == ("at most 9 bytes", "10 bytes")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_named_pipe_does_not_hold_us(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.png")
    with pytest.raises(UnreadableFile, match="no regular file"):
        DropFolder(tmp_path).read_bytes("pipe.png", 100)


def test_gone_file(tmp_path: Path) -> None:
    with pytest.raises(UnreadableFile, match="not there"):
        DropFolder(tmp_path, ("listed.png",)).read_bytes("other.png", 5)
    with pytest.raises(UnreadableFile, match="cannot be opened"):
        DropFolder(tmp_path, ("listed.png",)).read_bytes("listed.png", 5)


def test_find_name_and_folder_of(harbour: Path) -> None:
    fill(harbour, "old/Rope.png")
    assert DropFolder(harbour).find_name("Rope.png") == ("maps/Rope.png", "old/Rope.png")
    assert (folder_of("a/b/c.png"), folder_of("c.png")) == ("a/b", "")


@settings(max_examples=60, deadline=None)
@given(
    text=st.lists(st.sampled_from([*"ab./\\:%2eF~ ", "..", "/../", "%2e%2e", "\u0301"]), max_size=16).map("".join),
    base=st.sampled_from(["", "a", "a/b"]),
    uri=st.booleans(),
)
def test_whatever_is_found_lies_inside(
    tmp_path_factory: pytest.TempPathFactory, text: str, base: str, uri: bool
) -> None:
    root = tmp_path_factory.getbasetemp() / "invariant" / "drop"
    if not root.exists():
        fill(root, "a/b/F", "a/F", "b", "F", "..a", "a/ b")
        fill(root.parent, "a", "b", "F")
    folder = DropFolder(root)
    found = folder.resolve(text, base=base, kind="image", percent_encoded=uri)
    assert found.status in ("present", "wrong-case", "missing", "outside")
    if found.path:
        real = os.path.realpath(folder.path_of(found.path))
        assert real.startswith(str(root.resolve()) + os.sep)
        assert Path(real).is_file()
    else:
        assert found.status in ("missing", "outside")
