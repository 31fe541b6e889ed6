"""Material libraries: which file each name leads to, and which slot each map fills."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from tests.support.obj_drop import SQUARE, codes, notes_of, read_text
from tidegate.load.obj import read_obj
from tidegate.load.references import DropFolder
from tidegate.model.mesh import MapSlot, MeshFile

FACE = SQUARE + "usemtl rope\nf 1 2 3\n"


def with_library(folder: Path, library: str | bytes, files: dict[str, str | bytes] | None = None) -> MeshFile:
    return read_text(folder, "mtllib net.mtl\n" + FACE, {"net.mtl": library, **(files or {})})


def only_slot(mesh: MeshFile) -> MapSlot:
    ((slot,),) = (material.slots for material in mesh.materials)
    return slot


@pytest.mark.parametrize(
    ("keyword", "slot", "channels"),
    [
        ("map_Ka", "ambient", "rgb"),
        ("map_Kd", "base_color", "rgb"),
        ("map_Ks", "specular", "rgb"),
        ("map_Ke", "emission", "rgb"),
        ("map_Ns", "gloss", "r"),
        ("map_d", "opacity", "r"),
        ("map_bump", "height", "r"),
        ("map_Bump", "height", "r"),
        ("bump", "height", "r"),
        ("norm", "normal", "rgb"),
        ("disp", "height", "r"),
        ("decal", "decal", "rgb"),
        ("refl", "reflection", "rgb"),
        ("map_Pr", "roughness", "r"),
        ("map_Pm", "metalness", "r"),
        ("map_Ps", "sheen", "rgb"),
        ("map_Pc", "clearcoat", "r"),
        ("MAP_KD", "base_color", "rgb"),
    ],
)
def test_slots(tmp_path: Path, keyword: str, slot: str, channels: str) -> None:
    mesh = with_library(tmp_path, f"newmtl rope\n{keyword} rope.png\n", {"rope.png": "x"})
    found = only_slot(mesh)
    assert (found.slot, found.channels, found.stated_as) == (slot, channels, keyword)
    assert mesh.references[found.reference].text == "rope.png"
    assert mesh.references[found.reference].status == "present"
    assert mesh.notes == ()


def test_options_reach_the_slot(tmp_path: Path) -> None:
    mesh = with_library(
        tmp_path, "newmtl rope\nmap_Kd -s 2 3 -o 0.5 -clamp on -imfchan m my rope.png\n", {"my rope.png": "x"}
    )
    slot = only_slot(mesh)
    assert slot.options == (("s", "2 3"), ("o", "0.5"), ("clamp", "on"), ("imfchan", "m"))
    assert slot.transform is not None and slot.transform.matrix == ((2, 0, 0.5), (0, 3, 0))
    assert slot.wrap == ("clamp", "clamp") and slot.channels == "a"
    assert mesh.references[slot.reference].text == "my rope.png"


def test_a_cut_out_mask_in_the_base_colours_own_file_is_its_alpha(tmp_path: Path) -> None:
    mesh = with_library(tmp_path, "newmtl rope\nmap_d a.png\nmap_Kd a.png\n", {"a.png": "x"})
    assert [(slot.slot, slot.channels) for slot in mesh.materials[0].slots] == [("opacity", "a"), ("base_color", "rgb")]
    assert mesh.materials[0].alpha_mode == "blend"
    assert len(mesh.references) == 2  # the library, and the picture once


@pytest.mark.parametrize(
    ("line", "mode"), [("d 1", "opaque"), ("d 0.5", "blend"), ("d -halo 0.5", "blend"), ("d x", "opaque")]
)
def test_dissolve(tmp_path: Path, line: str, mode: str) -> None:
    # "d 1.0" is opaque (material library text, dissolve).
    assert with_library(tmp_path, f"newmtl rope\n{line}\n").materials[0].alpha_mode == mode


@pytest.mark.parametrize(
    ("text", "status", "path"),
    [
        ("maps/rope.png", "present", "maps/rope.png"),
        ("maps\\rope.png", "present", "maps/rope.png"),
        (".\\maps\\rope.png", "present", "maps/rope.png"),
        ("maps\\\\rope.png", "present", "maps/rope.png"),
        ('"maps/rope.png"', "present", "maps/rope.png"),
        ("maps/Rope.PNG", "wrong-case", "maps/rope.png"),
        ("maps/gone.png", "missing", ""),
        ("C:\\Users\\someone\\gone.png", "outside", ""),
        ("/home/someone/gone.png", "outside", ""),
        ("\\\\share\\maps\\gone.png", "outside", ""),
        ("../gone.png", "outside", ""),
        ("https://example.org/gone.png", "outside", ""),
        ("rope%20map.png", "missing", ""),  # no URI: the text says nothing of percent signs
        ("a # b.png", "present", "a # b.png"),
        ("maps/rope.png # the rope", "present", "maps/rope.png"),
    ],
)
def test_where_a_map_is(tmp_path: Path, text: str, status: str, path: str) -> None:
    files = {"maps/rope.png": "x", "rope map.png": "x", "a # b.png": "x"}
    mesh = with_library(tmp_path, f"newmtl rope\nmap_Kd {text}\n", files)
    reference = mesh.references[only_slot(mesh).reference]
    assert (reference.status, reference.path, reference.kind) == (status, path, "image")
    assert reference.text == text.removesuffix(" # the rope")  # exactly as written, marks and all


def test_maps_are_looked_for_beside_their_library(tmp_path: Path) -> None:
    files = {"materials/net.mtl": "newmtl rope\nmap_Kd rope.png\n", "materials/rope.png": "x"}
    mesh = read_text(tmp_path, "mtllib materials\\net.mtl\n" + FACE, files)
    assert [(r.text, r.status, r.path) for r in mesh.references] == [
        ("materials\\net.mtl", "present", "materials/net.mtl"),
        ("rope.png", "present", "materials/rope.png"),
    ]


@pytest.mark.parametrize(
    ("statement", "wanted"),
    [
        ("a.mtl b.mtl", [("a.mtl", "present"), ("b.mtl", "present")]),
        ("my net.mtl", [("my net.mtl", "present")]),
        ("my net.mtl a.mtl", [("my net.mtl", "present"), ("a.mtl", "present")]),
        ("a.mtl my  net.mtl", [("a.mtl", "present"), ("my  net.mtl", "missing")]),
        ("gone too.mtl b.mtl", [("gone too.mtl", "missing"), ("b.mtl", "present")]),
        ("gone.mtl lost.mtl", [("gone.mtl", "missing"), ("lost.mtl", "missing")]),
        ("a.mtl gone", [("a.mtl", "present"), ("gone", "missing")]),
        ('"my net.mtl"', [('"my net.mtl"', "present")]),
        ("A.MTL", [("A.MTL", "wrong-case")]),
        ("a.mtl # the first", [("a.mtl", "present")]),
    ],
)
def test_several_libraries_and_names_with_blanks(tmp_path: Path, statement: str, wanted: list[tuple[str, str]]) -> None:
    files: dict[str, str | bytes] = dict.fromkeys(("a.mtl", "b.mtl", "my net.mtl"), "newmtl x\n")
    mesh = read_text(tmp_path, f"mtllib {statement}\n" + SQUARE + "f 1 2 3\n", files)
    assert [(r.text, r.status) for r in mesh.references] == wanted
    assert all(r.kind == "material library" for r in mesh.references)
    missing = [text for text, status in wanted if status == "missing"]
    assert [note.message for note in notes_of(mesh, "material-library-missing")] == [
        f"material library `{text}` is not there" for text in missing
    ]


def test_libraries_are_searched_in_order(tmp_path: Path) -> None:
    # The first definition of a name holds (Appendix B1, mtllib: searched in the order named).
    files = {"a.mtl": "newmtl rope\nmap_Kd a.png\n", "b.mtl": "newmtl rope\nmap_Kd b.png\nnewmtl iron\n"}
    mesh = read_text(tmp_path, "mtllib a.mtl\nmtllib b.mtl\n" + FACE, {**files, "a.png": "x", "b.png": "x"})
    assert [material.name for material in mesh.materials] == ["rope", "iron"]
    assert mesh.references[mesh.materials[0].slots[0].reference].path == "a.png"
    assert "b.png" in [reference.text for reference in mesh.references]
    assert codes(mesh) == ["material-defined-twice"]


def test_a_library_named_twice_is_read_once(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, "mtllib net.mtl\nmtllib net.mtl\n" + FACE, {"net.mtl": "newmtl rope\n"})
    assert len(mesh.references) == 1 and mesh.notes == ()


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_tabs_and_blanks(tmp_path: Path, end: str) -> None:
    library = f"# made by hand{end}newmtl\tnet float\t\t{end}\tKd 1 1 1{end}  map_Kd\t-s 2\trope.png  {end}"
    mesh = read_text(tmp_path, "mtllib net.mtl\n" + SQUARE + "usemtl net float\nf 1 2 3\n", {"net.mtl": library})
    (material,) = mesh.materials
    assert material.name == "net float" and material.slots[0].options == (("s", "2"),)
    assert mesh.references[1].text == "rope.png"
    assert mesh.notes == ()


@pytest.mark.parametrize(
    ("library", "code", "level"),
    [
        ("Kd 1 1 1\nnewmtl rope\n", "statement-before-newmtl", "warning"),
        ("map_Kd a.png\nnewmtl rope\n", "statement-before-newmtl", "warning"),
        ("newmtl rope\nnewmtl rope\n", "material-defined-twice", "warning"),
        ("newmtl rope\nnewmtl\n", "material-without-name", "warning"),
        ("newmtl rope\nmap_Kd\n", "map-without-file", "error"),
        ("newmtl rope\nmap_Kd -s 1 1 1\n", "map-without-file", "error"),
        ("newmtl rope\nmap_Kd -clamp a.png\n", "map-option-incomplete", "warning"),
        ("newmtl rope\nmap_Xy a.png\n", "unknown-map-statement", "note"),
        ("newmtl rope\nshine 3\n", "unknown-material-statement", "note"),
    ],
)
def test_what_is_odd_is_told(tmp_path: Path, library: str, code: str, level: str) -> None:
    mesh = with_library(tmp_path, library)
    assert [(note.code, note.level) for note in mesh.notes] == [(code, level)]
    assert "rope" in [material.name for material in mesh.materials]


def test_a_map_before_the_first_material_is_accounted_for(tmp_path: Path) -> None:
    mesh = with_library(tmp_path, "map_Kd a.png\nnewmtl rope\n")
    assert [(r.text, r.status) for r in mesh.references[1:]] == [("a.png", "missing")]
    assert mesh.materials[0].slots == ()


def test_an_unknown_map_is_kept_as_a_map(tmp_path: Path) -> None:
    slot = only_slot(with_library(tmp_path, "newmtl rope\nmap_Xy a.png\n"))
    assert (slot.slot, slot.stated_as) == ("map_xy", "map_Xy")


def test_a_map_without_a_file_has_no_reference(tmp_path: Path) -> None:
    assert only_slot(with_library(tmp_path, "newmtl rope\nmap_Kd\n")).reference == -1


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"", "the file is empty"),
        (b"version https://git-lfs.github.com/spec/v1\noid sha256:0\n", "pointer text"),
        (b"\x00\x01\x02", "binary"),
    ],
)
def test_a_library_that_cannot_be_read_is_told_and_the_mesh_kept(tmp_path: Path, content: bytes, what: str) -> None:
    mesh = with_library(tmp_path, content)
    assert codes(mesh) == ["material-library-unreadable", "material-not-defined"]
    assert mesh.notes[0].level == "error" and what in mesh.notes[0].message
    assert mesh.parts[0].triangles.tolist() == [[0, 1, 2]]
    assert not mesh.materials[0].stated


def test_names_in_windows_text(tmp_path: Path) -> None:
    mesh = with_library(tmp_path, "newmtl rope\nmap_Kd möwe.png\n".encode("cp1252"), {"möwe.png": "x"})
    assert [(r.text, r.status) for r in mesh.references[1:]] == [("möwe.png", "present")]
    assert codes(mesh) == ["names-not-utf-8"]


def test_maps_in_a_library_folder(tmp_path: Path) -> None:
    shared = tmp_path / "shared"
    shared.mkdir()
    (shared / "rope.png").write_bytes(b"x")
    drop = tmp_path / "drop"
    drop.mkdir()
    (drop / "crate.obj").write_text("mtllib net.mtl\n" + FACE)
    (drop / "net.mtl").write_text("newmtl rope\nmap_Kd rope.png\n")
    mesh = read_obj(DropFolder(drop, libraries=(shared,)), "crate.obj")
    assert mesh.references[1].library and mesh.references[1].path == (shared / "rope.png").as_posix()


def test_a_library_outside_the_drop_is_never_opened(tmp_path: Path) -> None:
    (tmp_path / "net.mtl").write_text("newmtl rope\n")
    drop = tmp_path / "drop"
    drop.mkdir()
    mesh = read_text(drop, "mtllib ../net.mtl\n" + FACE)
    assert [(r.text, r.status, r.path) for r in mesh.references] == [("../net.mtl", "outside", "")]
    assert codes(mesh) == ["material-not-defined"]


def test_damaged_libraries_never_raise(tmp_path: Path) -> None:
    rng = random.Random(3)
    good = b"newmtl rope\nKd 1 1 1\nmap_Kd -s 2 2 2 -o 0.5 rope.png\nbump -bm 0.2 my bump.png\nd 0.5\n"
    for _ in range(40):
        damaged = bytearray(good)
        for _ in range(rng.randint(1, 5)):
            damaged[rng.randrange(len(damaged))] ^= 1 << rng.randrange(8)
        assert len(with_library(tmp_path, bytes(damaged)).parts[0].triangles) == 1
    for length in range(len(good)):
        assert with_library(tmp_path, good[:length]).parts
