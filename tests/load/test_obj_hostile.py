"""Damaged, cut off and hostile OBJ files: which answer each of them gets."""

from __future__ import annotations

import random
from pathlib import Path

import numpy as np
import pytest

from tests.support.obj_drop import SQUARE, SQUARE_UV, codes, notes_of, read_text
from tidegate.errors import LimitExceeded, UnreadableFile
from tidegate.load.limits import ReadLimits

GOOD = (
    "mtllib crate.mtl\no crate\n"
    + SQUARE
    + SQUARE_UV
    + "vn 0 0 1\nusemtl wood\nf 1/1/1 2/2/1 3/3/1\nf 1/1/1 3/3/1 4/4/1\n"
)


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"", "the file is empty"),
        (b"\n\n", "the file holds no face"),
        (b"# a comment only\n", "the file holds no face"),
        (SQUARE.encode(), "the file holds no face"),
        (b"v 0 0 0\nv 1 0 0\nf 1 2\n", "the file holds no face"),
        (b"f 1 2 3\n", "line 1: a face uses a vertex that does not exist"),
        (
            b"version https://git-lfs.github.com/spec/v1\noid sha256:0123\nsize 12345\n",
            "this is the pointer text of a large-file store, not the file itself",
        ),
        (b"/annex/objects/MD5E-s1--0\n", "this is the pointer text of a large-file store, not the file itself"),
        (b"glTF\x02\x00\x00\x00" + bytes(40), "the file is binary, not text"),
        (b"\x89PNG\r\n\x1a\n\x7f\x99\xff" * 50, "the file holds no face"),
        ("v 0 0 0\n".encode("utf-16"), "the text is UTF-16"),
        ((SQUARE + "f 1 2 5\n").encode(), "line 5: a face uses a vertex that does not exist"),
        ((SQUARE + "f 0 1 2\n").encode(), "line 5: a face uses a vertex that does not exist"),
        ((SQUARE + "f 1 2 3\nf 1 2 -5\n").encode(), "line 6: a face uses a vertex that does not exist"),
        ((SQUARE + "f 1 2 99999999999999999999999\n").encode(), "line 5: a face uses a vertex that does not exist"),
        ((SQUARE + "f 1 2 3\nv 5 5").encode(), "the file breaks off in the middle of its last line"),
        ((SQUARE + "f 1 2 3\nf 1 2").encode(), "the file breaks off in the middle of its last line"),
        ((SQUARE + "f 1 2 3\nf 1 2 ").encode(), "the file breaks off in the middle of its last line"),
        (
            (SQUARE + SQUARE_UV + "f 1/1 2/2 3/3\nf 1/1 2/2 3/").encode(),
            "the file breaks off in the middle of its last line",
        ),
        ((SQUARE + "vn 0 0 1\nf 1//1 2//1 3").encode(), "the file breaks off in the middle of its last line"),
        ((SQUARE + "f 1 2 3\nf 1 \\\n2").encode(), "the file breaks off in the middle of its last line"),
    ],
)
def test_what_is_wrong_is_named(tmp_path: Path, content: bytes, what: str) -> None:
    with pytest.raises(UnreadableFile) as caught:
        read_text(tmp_path, content)
    assert caught.value.what == what
    assert caught.value.path == "crate.obj"
    assert caught.value.help


def test_a_texture_vertex_out_of_range_takes_the_uvs_of_its_face(tmp_path: Path) -> None:
    text = SQUARE + SQUARE_UV + "f 1/1 2/2 3/3\nf 1/1 3/5 4/4\nf 1/0 2/2 4/4\nf 1/-9 2/2 4/4\n"
    mesh = read_text(tmp_path, text)
    layer = mesh.parts[0].uv_layers[0]
    assert layer.triangles.tolist() == [[0, 1, 2], [-1, -1, -1], [-1, -1, -1], [-1, -1, -1]]
    assert mesh.parts[0].triangles.tolist() == [[0, 1, 2], [0, 2, 3], [0, 1, 3], [0, 1, 3]]
    (note,) = notes_of(mesh, "index-out-of-range")
    assert (note.level, note.place) == ("error", "line 10")
    assert "lines 10, 11 and 12" in note.message and "texture vertex" in note.message


def test_a_normal_out_of_range_takes_the_normals_of_its_face(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, SQUARE + "vn 0 0 1\nf 1//1 2//1 3//1\nf 1//1 3//2 4//1\n")
    part = mesh.parts[0]
    assert part.normal_triangles is not None and part.normal_triangles.tolist() == [[0, 0, 0], [-1, -1, -1]]
    assert [(note.level, note.place) for note in notes_of(mesh, "index-out-of-range")] == [("error", "line 7")]


def test_texture_vertices_at_the_last_number_are_in_range(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, SQUARE + SQUARE_UV + "f 1/1 2/2 3/4\nf 1/-4 2/-3 4/-1\n")
    assert mesh.notes == ()


def test_corners_half_with_uvs(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, SQUARE + SQUARE_UV + "f 1/1 2/2 3\nf 1/1 3/3 4/4\n")
    assert mesh.parts[0].uv_layers[0].triangles.tolist() == [[-1, -1, -1], [0, 1, 2]]
    (note,) = notes_of(mesh, "corners-half-stated")
    assert (note.level, note.place) == ("error", "line 9")


@pytest.mark.parametrize("corner", ["x", "1.5", "1/2/3/4", "/1", "1/x", "1//1.0", "1-2", "3#"])
def test_a_face_with_a_word_that_is_no_corner_is_left_out(tmp_path: Path, corner: str) -> None:
    mesh = read_text(tmp_path, SQUARE + SQUARE_UV + f"f 1 2 3\nusemtl a\nf 1 2 {corner}\nusemtl b\nf 1 3 4\n")
    # What follows keeps its place: the material of the dropped face is worn by none.
    assert [(part.triangles.tolist(), part.material) for part in mesh.parts] == [([[0, 1, 2]], -1), ([[0, 1, 2]], 0)]
    assert mesh.materials[0].name == "b" and len(mesh.materials) == 1
    (note,) = notes_of(mesh, "unreadable-line")
    assert (note.level, note.place) == ("error", "line 11") and "left out" in note.message


@pytest.mark.parametrize(
    ("line", "what"),
    [
        ("v 1 x 0", "no number"),
        ("v 1 1,5 0", "no number"),
        ("v 1 1.#QNAN 0", "no number"),
        ("v 1 2", "fewer than 3"),
        ("v", "fewer than 3"),
    ],
)
def test_a_vertex_line_that_cannot_be_read_keeps_its_number(tmp_path: Path, line: str, what: str) -> None:
    mesh = read_text(tmp_path, f"v 0 0 0\n{line}\nv 1 1 0\nv 0 1 0\nf 1 3 4\n")
    assert mesh.parts[0].positions.tolist() == [[0, 0, 0], [1, 1, 0], [0, 1, 0]]
    assert [(note.code, note.level, note.place) for note in mesh.notes] == [("unreadable-line", "error", "line 2")]
    assert what in mesh.notes[0].message


@pytest.mark.parametrize("value", ["nan", "NaN", "inf", "-inf", "1e999"])
@pytest.mark.parametrize("key", ["v", "vt", "vn"])
def test_coordinates_that_are_not_finite(tmp_path: Path, key: str, value: str) -> None:
    lines = {"v": "v 0 0 0", "vt": "vt 0 0", "vn": "vn 0 0 1"}
    bad = {**lines, key: f"{key} {value} 0 1".rsplit(" ", key == "vt")[0]}
    text = "\n".join(bad.values()) + "\n" + "\n".join(lines.values()) + "\nv 1 0 0\nv 1 1 0\nf 1/1/1 3/2/2 4/2/2\n"
    mesh = read_text(tmp_path, text)
    assert [(n.code, n.level, n.place) for n in mesh.notes] == [
        ("not-finite", "error", f"line {list(lines).index(key) + 1}")
    ]
    assert len(mesh.parts[0].triangles) == 1


def test_overflow_by_the_unit_does_not_raise(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, "v 1e308 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nf 1 2 3 4\n", unit=1000.0)
    assert np.isinf(mesh.parts[0].positions).any()


@pytest.mark.parametrize(
    ("limits", "passes"),
    [
        (ReadLimits(triangles=2), True),
        (ReadLimits(triangles=1), False),
        (ReadLimits(vertices=4), True),
        (ReadLimits(vertices=3), False),
        (ReadLimits(text_line=18), True),
        (ReadLimits(text_line=17), False),
    ],
)
def test_both_sides_of_the_limits(tmp_path: Path, limits: ReadLimits, passes: bool) -> None:
    text = SQUARE + "f 1 2 3\nf 1 3 4 # the last\n"  # the last line has 7 + 1 + 10 = 18 bytes
    if passes:
        assert len(read_text(tmp_path, text, limits=limits).parts[0].triangles) == 2
    else:
        with pytest.raises(LimitExceeded):
            read_text(tmp_path, text, limits=limits)


def test_a_file_of_the_size_allowed(tmp_path: Path) -> None:
    assert read_text(tmp_path, GOOD, limits=ReadLimits(file_bytes=len(GOOD)))
    with pytest.raises(LimitExceeded):
        read_text(tmp_path, GOOD, limits=ReadLimits(file_bytes=len(GOOD) - 1))


def test_more_meshes_or_materials_than_allowed(tmp_path: Path) -> None:
    text = SQUARE + "o a\nusemtl a\nf 1 2 3\no b\nusemtl b\nf 1 3 4\n"
    assert read_text(tmp_path, text, limits=ReadLimits(meshes=3, materials=2))
    for limits in (ReadLimits(meshes=2), ReadLimits(materials=1)):
        with pytest.raises(LimitExceeded):
            read_text(tmp_path, text, limits=limits)


def test_every_length_of_a_good_file(tmp_path: Path) -> None:
    """Cut at any byte: refused, or read with every face whose line is whole, and never without a word."""
    whole = read_text(tmp_path, GOOD)
    assert sum(len(part.triangles) for part in whole.parts) == 2
    first_face, second_face = (GOOD.index(f"f 1/1/1 {n}") for n in ("2", "3"))
    for length in range(len(GOOD)):
        try:
            mesh = read_text(tmp_path, GOOD[:length])
        except UnreadableFile as fault:
            assert fault.what
            continue
        assert length > first_face
        assert sum(len(part.triangles) for part in mesh.parts) == (1 if length <= second_face + 1 else 2)
        # Only a file cut right behind a line looks whole, and there a whole line is all that is lost.
        assert GOOD[length - 1] == "\n" or "no-final-line-end" in codes(mesh)


def test_flipped_bits_never_raise_anything_else(tmp_path: Path) -> None:
    rng = random.Random(11)
    good = GOOD.encode()
    for _ in range(150):
        damaged = bytearray(good)
        for _ in range(rng.randint(1, 4)):
            damaged[rng.randrange(len(damaged))] ^= 1 << rng.randrange(8)
        try:
            mesh = read_text(tmp_path, bytes(damaged))
        except UnreadableFile:
            continue
        assert mesh.parts
        for part in mesh.parts:
            assert part.triangles.min() >= 0 and part.triangles.max() < len(part.positions)


def test_inserted_rubbish_never_raises_anything_else(tmp_path: Path) -> None:
    rng = random.Random(12)
    rubbish = [b"/", b"//", b"\\\n", b"\r", b"#", b"-", b"9" * 5000, b"\nf\n", b"\nv\n", b"\xff", b"\0", b"1e", b"\x0b"]
    good = GOOD.encode()
    for _ in range(100):
        at = rng.randrange(len(good))
        try:
            assert read_text(tmp_path, good[:at] + rng.choice(rubbish) + good[at:]).parts
        except UnreadableFile:
            continue


def test_many_unknown_lines_give_few_notes(tmp_path: Path) -> None:
    text = "".join(f"junk{n} 1\n" for n in range(500)) + SQUARE + "x 1\n" * 500 + "f 1 2 3\n"
    mesh = read_text(tmp_path, text)
    assert len(mesh.notes) == 21
    assert mesh.notes[-1].message == "lines with 481 more unknown keywords"
