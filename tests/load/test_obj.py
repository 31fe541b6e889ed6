"""What an OBJ file says, line by line, against answers worked out by hand.

"B1" stands for "Object Files (.obj)", Appendix B1.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from tests.support.obj_drop import SQUARE, SQUARE_UV, codes, notes_of, read_text
from tidegate.errors import UnreadableFile
from tidegate.load.obj import read_obj
from tidegate.load.references import DropFolder
from tidegate.model.mesh import Material

QUAD = "f 1 2 3 4\n"


def test_a_square(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, SQUARE + SQUARE_UV + "vn 0 0 1\nf 1/1/1 2/2/1 3/3/1 4/4/1\n")
    (part,) = mesh.parts
    assert (mesh.format, mesh.path, mesh.unit, mesh.unit_stated, mesh.up_axis) == ("obj", "crate.obj", 1.0, False, "y")
    assert part.positions.tolist() == [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]
    assert part.triangles.tolist() == [[0, 1, 2], [0, 2, 3]]
    (layer,) = part.uv_layers
    assert (layer.index, layer.name) == (0, "vt")
    assert layer.uv.tolist() == [[0, 0], [1, 0], [1, 1], [0, 1]]
    assert layer.triangles.tolist() == [[0, 1, 2], [0, 2, 3]]
    assert part.normals is not None and part.normals.tolist() == [[0, 0, 1]]
    assert part.normal_triangles is not None and part.normal_triangles.tolist() == [[0, 0, 0], [0, 0, 0]]
    assert part.polygon is not None and part.polygon.tolist() == [0, 0]
    assert part.polygon_corners is not None and part.polygon_corners.tolist() == [4]
    assert (part.material, part.mesh, part.node, part.colors) == (-1, "", "", None)
    assert mesh.notes == () and mesh.materials == () and mesh.references == () and mesh.unused_vertices == 0


def test_types_and_read_only_arrays(tmp_path: Path) -> None:
    part = read_text(tmp_path, SQUARE + SQUARE_UV + "vn 0 0 1\nf 1/1/1 2/2/1 3/3/1 4/4/1\n").parts[0]
    layer = part.uv_layers[0]
    for array, kind in (
        (part.positions, np.float64),
        (part.triangles, np.int32),
        (part.normals, np.float64),
        (part.normal_triangles, np.int32),
        (part.polygon, np.int32),
        (part.polygon_corners, np.int32),
        (layer.uv, np.float64),
        (layer.triangles, np.int32),
    ):
        assert array is not None and array.dtype == kind
        assert not array.flags.writeable


def test_triangles_alone_need_no_polygon_numbers(tmp_path: Path) -> None:
    part = read_text(tmp_path, SQUARE + "f 1 2 3\nf 1 3 4\n").parts[0]
    assert part.polygon is None and part.polygon_corners is None
    assert part.triangles.tolist() == [[0, 1, 2], [0, 2, 3]]


@pytest.mark.parametrize(
    ("form", "has_uv", "has_normal"),
    [("{0}", False, False), ("{0}/{0}", True, False), ("{0}//{0}", False, True), ("{0}/{0}/{0}", True, True)],
)
def test_every_form_of_a_corner(tmp_path: Path, form: str, has_uv: bool, has_normal: bool) -> None:
    # B1, f: "v/vt/vn", the texture vertex and the normal may be left out, two slashes when only the former is.
    normals = "".join(f"vn 0 0 {n}\n" for n in (1, 2, 3, 4))
    face = "f " + " ".join(form.format(n) for n in (1, 2, 3)) + "\n"
    part = read_text(tmp_path, SQUARE + SQUARE_UV + normals + face).parts[0]
    assert bool(part.uv_layers) == has_uv
    assert (part.normals is not None) == has_normal
    if has_uv:
        assert part.uv_layers[0].uv[part.uv_layers[0].triangles[0]].tolist() == [[0, 0], [1, 0], [1, 1]]
    if has_normal:
        assert part.normals is not None and part.normal_triangles is not None
        assert part.normals[part.normal_triangles[0]].tolist() == [[0, 0, 1], [0, 0, 2], [0, 0, 3]]


def test_a_slash_without_a_number_behind_it(tmp_path: Path) -> None:
    part = read_text(tmp_path, SQUARE + SQUARE_UV + "f 1/ 2/ 3/\nf 1// 3// 4//\n").parts[0]
    assert part.triangles.tolist() == [[0, 1, 2], [0, 2, 3]] and part.uv_layers == ()


def test_relative_numbers_count_back_from_the_face(tmp_path: Path) -> None:
    # B1, f: -1 is the last one stated before the face; what follows the face is not counted.
    text = (
        SQUARE
        + SQUARE_UV
        + "f -4/-4 -3/-3 -2/-2 -1/-1\n"
        + "v 0 0 5\nv 1 0 5\nv 1 1 5\nvt 0.5 0.5\n"
        + "f -3/-1 -2/-1 -1/1\n"
        + "v 9 9 9\n"
    )
    part = read_text(tmp_path, text).parts[0]
    assert part.positions[part.triangles[2]].tolist() == [[0, 0, 5], [1, 0, 5], [1, 1, 5]]
    assert part.uv_layers[0].uv[part.uv_layers[0].triangles[2]].tolist() == [[0.5, 0.5], [0.5, 0.5], [0, 0]]
    assert part.positions[part.triangles[0]].tolist() == [[0, 0, 0], [1, 0, 0], [1, 1, 0]]


def test_faces_without_uv_stand_beside_faces_with(tmp_path: Path) -> None:
    # B1, usemap: a face without texture vertices ignores the map. The others keep theirs.
    mesh = read_text(tmp_path, SQUARE + SQUARE_UV + "f 1/1 2/2 3/3\nf 1 3 4\nf 1/2 3/3 4/4\n")
    layer = mesh.parts[0].uv_layers[0]
    assert layer.triangles.tolist() == [[0, 1, 2], [-1, -1, -1], [1, 2, 3]]
    (note,) = notes_of(mesh, "faces-without-uv")
    assert note.message == "1 of 3 faces have no UVs, first at line 10"
    assert note.level == "note"


def test_vt_with_one_two_and_three_values(tmp_path: Path) -> None:
    # B1, vt: v and w may be left out and are 0 then.
    mesh = read_text(tmp_path, SQUARE + "vt 0.25\nvt 0.5 0.75\nvt 0.1 0.2 0.3\nf 1/1 2/2 3/3\n")
    assert mesh.parts[0].uv_layers[0].uv.tolist() == [[0.25, 0], [0.5, 0.75], [0.1, 0.2]]
    assert codes(mesh) == ["third-uv-value"]


def test_vt_with_one_value_everywhere(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, SQUARE + "vt 0.25\nvt 0.5\nvt 1\nf 1/1 2/2 3/3\n")
    assert mesh.parts[0].uv_layers[0].uv.tolist() == [[0.25, 0], [0.5, 0], [1, 0]]


def test_the_weight_of_a_vertex_is_left_out(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, "v 0 0 0 1\nv 1 0 0 1.0\nv 1 1 0 1\nf 1 2 3\n")
    assert mesh.parts[0].positions.tolist() == [[0, 0, 0], [1, 0, 0], [1, 1, 0]] and mesh.notes == ()
    assert mesh.parts[0].colors is None
    mesh = read_text(tmp_path, "v 0 0 0 1\nv 1 0 0 0.5\nv 1 1 0 1\nf 1 2 3\n")
    assert codes(mesh) == ["weights-not-used"]


def test_vertex_colors(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, "v 0 0 0 1 0 0\nv 1 0 0 0 1 0\nv 1 1 0 0 0 0.5\nf 3 2 1\n")
    assert mesh.parts[0].colors is not None
    assert mesh.parts[0].colors.tolist() == [[1, 0, 0], [0, 1, 0], [0, 0, 0.5]] and mesh.notes == ()


def test_vertex_colors_in_bytes_are_divided(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, "v 0 0 0 255 0 0\nv 1 0 0 0 51 0\nv 1 1 0 0 0 0\nf 1 2 3\n")
    assert mesh.parts[0].colors is not None
    assert mesh.parts[0].colors[:2].tolist() == [[1, 0, 0], [0, 0.2, 0]]  # 51 / 255
    assert codes(mesh) == ["vertex-colors-in-bytes"]


def test_vertex_colors_that_some_vertices_lack(tmp_path: Path) -> None:
    text = "v 0 0 0 1 0 0\nv 1 0 0 1 0 0\nv 1 1 0 1 0 0\nv 0 1 0\no one\nf 1 2 3\no two\nf 1 3 4\n"
    mesh = read_text(tmp_path, text)
    assert [part.colors is None for part in mesh.parts] == [False, True]
    assert codes(mesh) == ["vertex-colors-partial"]


def test_odd_numbers_of_values_are_told(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, "v 0 0 0 1 1\nv 1 0 0\nv 1 1 0 1 2 3 4\nv 0 1 0 1 2 3 4 5 6\nf 1 2 3 4\n")
    assert mesh.parts[0].positions.tolist() == [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]
    (note,) = notes_of(mesh, "vertex-numbers-not-understood")
    assert "3 `v` lines" in note.message and note.place == "line 1"
    (note,) = notes_of(mesh, "surplus-numbers")
    assert note.place == "line 4"


# --- meshes, groups, materials ----------------------------------------------------------------------------------------


def test_objects_are_meshes_sorted_by_name(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, SQUARE + "o rope\nf 1 2 3\no buoy\nf 1 3 4\nf 2 3 4\n")
    assert [(part.mesh, len(part.triangles)) for part in mesh.parts] == [("buoy", 2), ("rope", 1)]
    assert mesh.parts[0].positions.tolist() == [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]


def test_faces_before_the_first_object(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, SQUARE + "f 1 2 3\no buoy\nf 1 3 4\n")
    assert [(part.mesh, len(part.triangles)) for part in mesh.parts] == [("", 1), ("buoy", 1)]


def test_an_object_stated_twice_is_one_mesh_and_told(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, SQUARE + "o buoy\nf 1 2 3\no rope\nf 1 2 4\no buoy\nf 1 3 4\n")
    assert [(part.mesh, len(part.triangles)) for part in mesh.parts] == [("buoy", 2), ("rope", 1)]
    (note,) = notes_of(mesh, "object-stated-twice")
    assert note.place == "line 9" and "line 5" in note.message


def test_groups_that_share_positions_are_one_mesh(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, SQUARE + "g lid\nf 1 2 3\ng side wall\nf 1 3 4\ng lid\nf 2 3 4\n")
    (part,) = mesh.parts
    assert (part.mesh, part.groups, len(part.triangles)) == ("", ("lid", "side", "wall"), 3)


def test_groups_that_share_none_are_meshes(tmp_path: Path) -> None:
    text = SQUARE + "v 0 0 1\nv 1 0 1\nv 1 1 1\nv 5 0 0\nv 6 0 0\nv 6 1 0\n"
    text += "g lid\nf 1 2 3\ng lid_2\nf 3 4 1\ng net\nf 5 6 7\ng\nf 8 9 10\n"
    mesh = read_text(tmp_path, text)
    # lid and lid_2 share corners 1 and 3: one mesh. The others stand alone. `g` without a name is "default" (B1, g).
    assert [(part.mesh, part.groups) for part in mesh.parts] == [
        ("", ("lid", "lid_2")),
        ("default", ("default",)),
        ("net", ("net",)),
    ]
    assert [len(part.positions) for part in mesh.parts] == [4, 3, 3]


def test_three_groups_around_one_position_are_one_mesh(tmp_path: Path) -> None:
    text = "".join(f"v {x} {y} 0\n" for x, y in ((0, 0), (1, 0), (0, 1), (-1, 0), (0, -1), (1, 1), (2, 2)))
    mesh = read_text(tmp_path, text + "g a\nf 1 2 3\ng b\nf 1 4 5\ng c\nf 1 6 7\n")
    assert [(part.mesh, part.groups) for part in mesh.parts] == [("", ("a", "b", "c"))]


def test_with_objects_groups_are_names_only(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, SQUARE + "v 5 0 0\nv 6 0 0\nv 6 1 0\no crate\ng a\nf 1 2 3\ng b\nf 5 6 7\n")
    assert [(part.mesh, part.groups) for part in mesh.parts] == [("crate", ("a", "b"))]


def test_a_part_for_each_material(tmp_path: Path) -> None:
    # B1, usemtl: holds for what follows, until it is changed.
    mtl = "newmtl wood\nnewmtl iron\n"
    text = "mtllib m.mtl\n" + SQUARE + "f 1 2 3\nusemtl wood\nf 1 3 4\no lid\nf 1 2 4\nusemtl iron\nf 2 3 4\n"
    mesh = read_text(tmp_path, text, {"m.mtl": mtl})
    assert [material.name for material in mesh.materials] == ["wood", "iron"]
    assert [(part.mesh, part.material) for part in mesh.parts] == [("", -1), ("", 0), ("lid", 1), ("lid", 0)]
    assert mesh.notes == ()


def test_a_material_no_library_defines(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, "mtllib m.mtl\n" + SQUARE + "usemtl Wood\nf 1 2 3\n", {"m.mtl": "newmtl wood\n"})
    assert mesh.materials == (Material("wood"), Material("Wood", stated=False))
    assert mesh.parts[0].material == 1
    (note,) = notes_of(mesh, "material-not-defined")
    assert note.level == "error"
    assert note.message == "material `Wood` is used, but no material library defines it; a library defines `wood`"


def test_a_material_named_but_never_worn_is_no_fault(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, SQUARE + "usemtl wood\nusemtl iron\nf 1 2 3\n")
    assert [material.name for material in mesh.materials] == ["iron"]


def test_each_part_keeps_the_points_it_uses(tmp_path: Path) -> None:
    text = "v 9 9 9\n" + SQUARE + "v 8 8 8\n" + SQUARE_UV + "vt 7 7\no a\nf 2/1 3/2 4/3\no b\nf 4/3 3/2 5/4\n"
    mesh = read_text(tmp_path, text)
    assert mesh.unused_vertices == 2
    a, b = mesh.parts
    assert a.positions.tolist() == [[0, 0, 0], [1, 0, 0], [1, 1, 0]]
    assert b.positions.tolist() == [[1, 0, 0], [1, 1, 0], [0, 1, 0]] and b.triangles.tolist() == [[1, 0, 2]]
    assert b.uv_layers[0].uv.tolist() == [[1, 0], [1, 1], [0, 1]]
    assert b.uv_layers[0].triangles.tolist() == [[1, 0, 2]]


def test_points_far_apart_in_the_file_are_found(tmp_path: Path) -> None:
    # Corners 1 and 20,001 in one small part: the way used for parts that span much of a large file.
    text = "".join(f"v {n} {n % 7} 0\n" for n in range(20_001)) + "o far\nf 1 10000 20001\n"
    part = read_text(tmp_path, text).parts[0]
    assert part.positions[part.triangles[0]].tolist() == [[0, 0, 0], [9999, 9999 % 7, 0], [20000, 20000 % 7, 0]]


# --- units and axes ---------------------------------------------------------------------------------------------------


def test_the_unit_is_applied(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, SQUARE + "vn 0 0 1\nf 1//1 2//1 3//1\n", unit=0.01)
    assert mesh.parts[0].positions.tolist() == [[0, 0, 0], [0.01, 0, 0], [0.01, 0.01, 0]]
    assert mesh.parts[0].normals is not None and mesh.parts[0].normals.tolist() == [[0, 0, 1]]
    assert mesh.unit == 0.01 and not mesh.unit_stated


def test_z_up_is_turned_to_y_up(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, "v 1 2 3\nv 4 5 6\nv 7 8 10\nvn 0 0 1\nf 1//1 2//1 3//1\n", up_axis="z")
    assert mesh.parts[0].positions.tolist() == [[1, 3, -2], [4, 6, -5], [7, 10, -8]]
    assert mesh.parts[0].normals is not None and mesh.parts[0].normals.tolist() == [[0, 1, 0]]
    assert mesh.up_axis == "z"
    # A turn, no mirror: the area vector turns the same way. (3,3,3) x (6,6,7) = (3,-3,0) -> (3,0,3).
    p = mesh.parts[0].positions
    assert np.cross(p[1] - p[0], p[2] - p[0]).tolist() == [3, 0, 3]


def test_another_up_axis_is_the_callers_mistake(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="up_axis"):
        read_text(tmp_path, SQUARE + QUAD, up_axis="x")


# --- how lines are written --------------------------------------------------------------------------------------------

PLAIN = "o crate\n" + SQUARE + SQUARE_UV + "usemtl wood\nf 1/1 2/2 3/3 4/4\n"


@pytest.mark.parametrize(
    "text",
    [
        PLAIN.replace("\n", "\r\n"),
        PLAIN.replace("\n", "\r"),
        PLAIN.replace("\n", "\r\n", 4),
        PLAIN.replace(" ", "\t"),
        PLAIN.replace(" ", "   "),
        "\n".join("  \t" + line for line in PLAIN.split("\n")),
        PLAIN.replace("\n", " \n"),
        PLAIN.replace("\n", "\n\n# f 7 8 9\n   \n"),
        PLAIN.replace("3/3", "\\\n3/3"),
        PLAIN.replace("v 1 1 0", "v \\\r\n 1 1 \\ \n 0"),
        PLAIN.replace("v 1 1 0", "v 1 1 0 # top corner 7 8 9").replace("4/4", "4/4 # 5/5"),
        PLAIN.replace("usemtl wood", "usemtl wood # planks"),
        "\ufeff" + PLAIN,
        PLAIN[:-1],
    ],
    ids=[
        *("crlf", "cr", "mixed", "tabs", "blanks", "indented", "trailing", "comments", "continued"),
        *("continued-twice", "mid-line", "names", "byte-order-mark", "no-final-end"),
    ],
)
def test_every_way_of_writing_lines_reads_the_same(tmp_path: Path, text: str) -> None:
    mesh = read_text(tmp_path, text)
    (part,) = mesh.parts
    assert part.mesh == "crate" and mesh.materials[part.material].name == "wood"
    assert part.positions.tolist() == [[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]
    assert part.uv_layers[0].uv.tolist() == [[0, 0], [1, 0], [1, 1], [0, 1]]
    assert part.triangles.tolist() == [[0, 1, 2], [0, 2, 3]] == part.uv_layers[0].triangles.tolist()
    extra = ["no-final-line-end"] if text == PLAIN[:-1] else []
    assert codes(mesh) == ["material-not-defined", *extra]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_numbers_count_continued_lines(tmp_path: Path, end: str) -> None:
    text = "v 0 0 \\\n 0\nv 1 \\\n 0 \\\n 0\nv 1 1 0\nf 1 2 3\nf 1 2\n"  # the last face stands in line 8
    mesh = read_text(tmp_path, text.replace("\n", end))
    (note,) = notes_of(mesh, "unreadable-line")
    assert note.place == "line 8"


def test_a_number_sign_inside_a_name_stays(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, "o crate #2\n" + SQUARE + "usemtl paint#7 # red\n" + QUAD)
    assert mesh.parts[0].mesh == "crate #2"
    assert mesh.materials[0].name == "paint#7"


@pytest.mark.parametrize(
    ("raw", "name", "encoding"),
    [
        ("Möwe".encode(), "Möwe", None),
        ("Möwe".encode("cp1252"), "Möwe", "cp1252"),
        (b"pier\x81", "pier\x81", "latin-1"),  # 0x81 is no character of Windows-1252
    ],
)
def test_names_in_other_encodings(tmp_path: Path, raw: bytes, name: str, encoding: str | None) -> None:
    mesh = read_text(tmp_path, b"o " + raw + b"\n" + (SQUARE + QUAD).encode())
    assert mesh.parts[0].mesh == name
    assert [encoding in note.message for note in notes_of(mesh, "names-not-utf-8")] == ([True] if encoding else [])


@pytest.mark.parametrize(
    ("line", "code", "level"),
    [
        ("l 1 2 3", "points-and-lines", "note"),
        ("p 1", "points-and-lines", "note"),
        ("cstype bspline", "free-form-surface", "warning"),
        ("vp 0.5 0.5", "free-form-surface", "warning"),
        ("lod 3", "display-statement", "note"),
        ("call other.obj", "other-file-called", "warning"),
        ("V 1 2 3", "unknown-statement", "warning"),
        ("vertex 1 2 3", "unknown-statement", "warning"),
        ("face 1 2 3", "unknown-statement", "warning"),
    ],
)
def test_what_is_not_read_is_told(tmp_path: Path, line: str, code: str, level: str) -> None:
    mesh = read_text(tmp_path, SQUARE + line + "\n" + line + "\n" + QUAD)
    assert [(note.code, note.level, note.place) for note in mesh.notes] == [(code, level, "line 5")]
    assert mesh.notes[0].message.startswith("2 ")


def test_smoothing_groups_pass_without_a_word(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, SQUARE + "s 1\nf 1 2 3\ns off\nf 1 3 4\n")
    assert len(mesh.parts) == 1 and mesh.notes == ()


def test_the_older_face_statement(tmp_path: Path) -> None:
    # B1, superseded statements: `fo` is read as `f`.
    assert read_text(tmp_path, SQUARE + "fo 1 2 3\nf 1 3 4\n").parts[0].triangles.tolist() == [[0, 1, 2], [0, 2, 3]]


def test_polygons_keep_their_corners(tmp_path: Path) -> None:
    text = "v 0 0 0\nv 2 0 0\nv 2 1 0\nv 1 1 0\nv 1 2 0\nv 0 2 0\nf 1 2 3\nf 2 3 4 5 6 1\nf 1 2 4 6\n"
    part = read_text(tmp_path, text).parts[0]
    assert part.polygon is not None and part.polygon.tolist() == [0, 1, 1, 1, 1, 2, 2]
    assert part.polygon_corners is not None and part.polygon_corners.tolist() == [3, 6, 4]
    p = part.positions[part.triangles[1:5]]
    areas = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])[:, 2] / 2
    assert (areas > 0).all() and areas.sum() == pytest.approx(3.0)  # the L of two squares and one


def test_a_crossed_polygon_is_told(tmp_path: Path) -> None:
    mesh = read_text(tmp_path, SQUARE + "v 0 2 0\nf 1 3 2 5\n")
    (note,) = notes_of(mesh, "polygon-not-simple")
    assert note.place == "line 6" and note.level == "warning"
    assert len(mesh.parts[0].triangles) == 2


def test_agrees_with_a_second_reader(tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    box = trimesh.creation.icosphere(subdivisions=2)
    lines = [f"v {x:.6f} {y:.6f} {z:.6f}" for x, y, z in box.vertices]
    lines += [f"vt {u:.5f} {v:.5f}" for u, v in rng.random((len(box.vertices), 2))]
    lines += [f"f {a}/{a} {b}/{b} {c}/{c}" for a, b, c in box.faces + 1]
    mine = read_text(tmp_path, "\n".join(lines) + "\n").parts[0]
    other = trimesh.load(tmp_path / "crate.obj", process=False)
    assert np.array_equal(mine.positions[mine.triangles], other.vertices[other.faces])
    assert np.array_equal(mine.uv_layers[0].uv[mine.uv_layers[0].triangles], other.visual.uv[other.faces])


def test_a_file_in_a_folder_of_the_drop(tmp_path: Path) -> None:
    (tmp_path / "export").mkdir()
    (tmp_path / "export" / "net.obj").write_text("mtllib net.mtl\n" + SQUARE + "usemtl rope\n" + QUAD)
    (tmp_path / "export" / "net.mtl").write_text("newmtl rope\nmap_Kd ../maps/rope.png\n")
    (tmp_path / "maps").mkdir()
    (tmp_path / "maps" / "rope.png").write_bytes(b"x")
    mesh = read_obj(DropFolder(tmp_path), "export/net.obj")
    assert [(r.text, r.status, r.path) for r in mesh.references] == [
        ("net.mtl", "present", "export/net.mtl"),
        ("../maps/rope.png", "present", "maps/rope.png"),
    ]


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(UnreadableFile, match="not there"):
        read_obj(DropFolder(tmp_path), "crate.obj")
