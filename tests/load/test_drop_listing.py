"""What a listing finds in a drop, and what it leaves alone."""

import hashlib
import os
import tomllib
from pathlib import Path

import pytest

from tidegate.errors import AskedWrongly, UnreadableFile
from tidegate.load.hashing import hashed, sha256_of
from tidegate.load.listing import kind_of, list_drop
from tidegate.load.loose_files import group_loose
from tidegate.load.named_files import named_files
from tidegate.model.name_scheme import read_scheme
from tidegate.model.prop import DropFile

SCHEME = read_scheme(tomllib.loads((Path(__file__).parents[2] / "rules" / "names.toml").read_text("utf-8")))


def fill(folder: Path, *names: str, **texts: str) -> Path:
    for name in names:
        place = folder / name
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(b"x")
    for name, text in texts.items():
        (folder / name.replace("__", ".")).write_text(text)
    return folder


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("bench.glb", "mesh"),
        ("BENCH.OBJ", "mesh"),
        ("bench.fbx", "mesh"),
        ("bench.bin", "mesh part"),
        ("bench.mtl", "material library"),
        ("bench_base_color.png", "map"),
        ("bench_base_color.tif", "map"),  # layered or not: its header tells later
        ("bench_base_color.PSD", "master"),
        ("bench.ora", "master"),
        ("bench.hdr", "map"),
        ("notes.txt", "other"),
        ("bench", "other"),
        ("bench.tidegate.json", "report"),
        ("bench.tidegate.txt", "report"),
        ("Bench.Tidegate.html", "report"),
        ("bench.tidegate.guide.png", "report"),
        ("bench.tidegate.faults_1.svg", "report"),
        ("bench.tidegate.guide.ora", "report"),
        ("bench.tidegate.guide.tga", "report"),
        ("manifest-sha256.txt", "report"),
        ("bench.tidegate.png", "map"),  # no sheet of ours is called so
        ("tidegate.toml", "other"),
    ],
)
def test_kinds_by_name(name: str, kind: str) -> None:
    assert kind_of(name, SCHEME) == kind
    assert kind_of("maps/" + name, SCHEME) == kind


def test_a_folder_is_one_drop_sorted_by_path(tmp_path: Path) -> None:
    fill(tmp_path / "bench", "bench.glb", "maps/bench_normal.png", "a.txt", "Thumbs.db", "x.png.part", "._bench.glb")
    drop = list_drop(tmp_path / "bench", SCHEME)
    assert (drop.name, drop.root, drop.is_folder) == ("bench", str(tmp_path / "bench"), True)
    assert [(file.path, file.kind, file.bytes) for file in drop.files] == [
        ("a.txt", "other", 1),
        ("bench.glb", "mesh", 1),
        ("maps/bench_normal.png", "map", 1),
    ]
    assert all(Path(file.location).is_absolute() and file.sha256 == "" for file in drop.files)
    assert [file.path for file in list_drop(tmp_path / "bench", SCHEME, ignore=("*.glb",)).files] == [
        "Thumbs.db",
        "a.txt",
        "maps/bench_normal.png",
        "x.png.part",
    ]


def test_links_are_never_followed_out(tmp_path: Path) -> None:
    outside = fill(tmp_path / "elsewhere", "secret.png")
    drop = fill(tmp_path / "bench", "bench.glb", "bench_normal.png")
    (drop / "out.png").symlink_to(outside / "secret.png")
    (drop / "out_folder").symlink_to(outside)
    (drop / "near.png").symlink_to("bench_normal.png")
    (drop / "nowhere.png").symlink_to("gone.png")
    (drop / "round.png").symlink_to("round.png")
    (drop / "up.png").symlink_to("../elsewhere/secret.png")
    os.mkfifo(drop / "pipe.png")
    found = {file.path: file for file in list_drop(drop, SCHEME).files}
    assert sorted(path for path, file in found.items() if file.note) == [
        "nowhere.png",
        "out.png",
        "out_folder",
        "pipe.png",
        "round.png",
        "up.png",
    ]
    assert all(file.kind == "other" and file.bytes == 0 for file in found.values() if file.note)
    assert "outside" in found["out.png"].note
    assert "outside" in found["up.png"].note
    assert (found["near.png"].kind, found["near.png"].note) == ("map", "")
    assert not any(path.startswith("out_folder/") for path in found)


def test_loose_files_are_one_drop_under_the_folder_they_share(tmp_path: Path) -> None:
    fill(tmp_path, "in/bench.glb", "in/maps/bench_normal.png", "in/other.glb")
    drop = list_drop([tmp_path / "in/maps/bench_normal.png", tmp_path / "in/bench.glb"], SCHEME)
    assert (drop.name, drop.root, drop.is_folder) == ("bench", str(tmp_path / "in"), False)
    assert [file.path for file in drop.files] == ["bench.glb", "maps/bench_normal.png"]


def test_one_mesh_brings_what_it_names_and_what_is_named_after_it(tmp_path: Path) -> None:
    fill(
        tmp_path,
        "wood.png",
        "bench_roughness.png",
        "crate_roughness.png",
        "bench_lod1.glb",
        "crate.glb",
        "maps/iron.png",
        bench__obj="mtllib bench.mtl\n",
        bench__mtl="newmtl a\nmap_Kd wood.png\nmap_Ks maps/iron.png\n",
    )
    drop = list_drop(tmp_path / "bench.obj", SCHEME)
    assert [file.path for file in drop.files] == [
        "bench.mtl",
        "bench.obj",
        "bench_lod1.glb",
        "bench_roughness.png",
        "maps/iron.png",
        "wood.png",
    ]
    assert drop.name == "bench"


def test_a_path_that_is_not_there_is_said(tmp_path: Path) -> None:
    with pytest.raises(AskedWrongly):
        list_drop(tmp_path / "nothing", SCHEME)
    assert list_drop([], SCHEME).files == ()


def test_names_that_are_not_utf8_are_listed(tmp_path: Path) -> None:
    (tmp_path / os.fsdecode(b"crate\xff.png")).write_bytes(b"x")
    (file,) = list_drop(tmp_path, SCHEME).files
    assert os.fsencode(file.path) == b"crate\xff.png"


def test_hashes_are_those_of_the_bytes(tmp_path: Path) -> None:
    # FIPS 180-4 SHA-256 of "abc" (NIST example) and of the empty text
    (tmp_path / "abc").write_bytes(b"abc")
    (tmp_path / "empty").write_bytes(b"")
    assert sha256_of(tmp_path / "abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert sha256_of(tmp_path / "empty") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    blocks = os.urandom((1 << 20) + 7)
    (tmp_path / "blocks").write_bytes(blocks)
    assert sha256_of(tmp_path / "blocks") == hashlib.sha256(blocks).hexdigest()
    with pytest.raises(UnreadableFile):
        sha256_of(tmp_path / "gone")
    assert hashed(DropFile("gone", "map", 1, str(tmp_path / "gone"))).sha256 == ""
    assert hashed(DropFile("abc", "other", 0, str(tmp_path / "abc"), note="a link")).sha256 == ""


# Names in mesh files -----------------------------------------------------------------------------------------------


def test_names_in_gltf(tmp_path: Path) -> None:
    text = '{"buffers":[{"uri":"a.bin"},{"uri":"data:;base64,AA"},{}],"images":[{"uri":"maps/b%20c.png"},{"bufferView":0}]}'
    fill(tmp_path, x__gltf=text)
    assert named_files(tmp_path / "x.gltf") == ("a.bin", "maps/b c.png")
    body = text.encode() + b" " * (-len(text) % 4)
    head = b"glTF" + (2).to_bytes(4, "little") + (20 + len(body)).to_bytes(4, "little")
    (tmp_path / "x.glb").write_bytes(head + len(body).to_bytes(4, "little") + b"JSON" + body)
    assert named_files(tmp_path / "x.glb") == ("a.bin", "maps/b c.png")


def test_names_in_obj_and_mtl(tmp_path: Path) -> None:
    fill(
        tmp_path,
        a__obj="# mtllib no.mtl\nv 0 0 0\n  mtllib a.mtl\nmtllibrary x\nf 1 1 1\nmtllib two parts.mtl",
        a__mtl="newmtl m\nmap_Kd -s 2 2 -clamp on maps\\wood.png\r\nbump -bm 0.5 deep wood.png\n#map_Ks no.png\n",
    )
    names = named_files(tmp_path / "a.obj")
    assert names[:1] == ("a.mtl",)
    assert set(names) == {"a.mtl", "two parts.mtl", "two", "parts.mtl", "maps/wood.png", "deep wood.png"}


def test_a_statement_across_two_blocks_is_found(tmp_path: Path) -> None:
    # the word ends up on both sides of the first 1 MiB read
    for shift in range(-8, 9):
        filler = "# " + "x" * 60 + "\n"
        text = filler * ((1 << 20) // len(filler))
        text += "#" + "y" * ((1 << 20) - len(text) + shift - 2) + "\n"
        (tmp_path / "a.obj").write_text(text + "mtllib late.mtl\nv 0 0 0\n")
        assert named_files(tmp_path / "a.obj") == ("late.mtl",), shift


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("a.glb", b""),
        ("a.glb", b"glTF"),
        ("a.glb", b"glTF\x02\0\0\0\xff\xff\xff\xff\xff\xff\xff\xffJSON{"),
        ("a.gltf", b"[1, 2"),
        ("a.gltf", b"[" * 100_000),
        ("a.gltf", b'{"images": 3, "buffers": [3, {"uri": 4}]}'),
        ("a.obj", b"mtllib\nmtllib \n\xff\xfe\0"),
        ("a.mtl", b"map_Kd\nmap_Kd -s\nmap_Kd -o 1 2 3\n"),
        ("a.png", b"mtllib x.mtl"),
    ],
)
def test_broken_files_name_nothing(tmp_path: Path, name: str, content: bytes) -> None:
    (tmp_path / name).write_bytes(content)
    assert named_files(tmp_path / name) == ()


def test_material_libraries_are_not_read_outside_the_folder(tmp_path: Path) -> None:
    fill(tmp_path, "in/x", secret__mtl="map_Kd stolen.png\n")
    fill(tmp_path / "in", a__obj="mtllib ../secret.mtl\nmtllib link.mtl\n")
    (tmp_path / "in" / "link.mtl").symlink_to(tmp_path / "secret.mtl")
    assert "stolen.png" not in named_files(tmp_path / "in" / "a.obj")


# Loose files -------------------------------------------------------------------------------------------------------


def test_loose_files_are_grouped_by_reference_and_by_name() -> None:
    wanted = {"fish_crate.obj": ["fish_crate.mtl", "planks.png"], "net_float.glb": ["textures/rope.png"]}
    names = [
        "fish_crate.obj",
        "fish_crate.mtl",
        "planks.png",
        "fish_crate_roughness.png",
        "fish_crate_roughness.psd",
        "net_float.glb",
        "net_float_lod1.glb",
        "rope.png",
        "net_float_red_base_color.png",
        "lost_base_color.png",
        "lost_normal.png",
        "readme.txt",
    ]
    groups = group_loose(names, Path("/inbox"), SCHEME, lambda path: wanted.get(path.name, ()))
    assert groups == [
        ["fish_crate.mtl", "fish_crate.obj", "fish_crate_roughness.png", "fish_crate_roughness.psd", "planks.png"],
        ["lost_base_color.png", "lost_normal.png"],
        ["net_float.glb", "net_float_lod1.glb", "net_float_red_base_color.png", "rope.png"],
        ["readme.txt"],
    ]
    assert groups == group_loose(names[::-1], Path("/inbox"), SCHEME, lambda path: wanted.get(path.name, ()))


def test_meshes_that_share_a_map_are_one_drop_and_others_are_not() -> None:
    names = ["cup.glb", "jug.glb", "pan.glb", "enamel.png"]
    wanted = {"cup.glb": ["enamel.png"], "jug.glb": ["ENAMEL.png"]}
    groups = group_loose(names, Path("/inbox"), SCHEME, lambda path: wanted.get(path.name, ()))
    assert groups == [["cup.glb", "enamel.png", "jug.glb"], ["pan.glb"]]


def test_a_map_goes_to_the_longest_asset() -> None:
    names = ["bench.glb", "bench_seat.glb", "bench_seat_normal.png", "bench_red_normal.png"]
    groups = group_loose(names, Path("/inbox"), SCHEME, lambda path: ())
    assert groups == [["bench.glb", "bench_red_normal.png"], ["bench_seat.glb", "bench_seat_normal.png"]]


def test_grouping_without_a_scheme_goes_by_stems() -> None:
    names = ["a.glb", "a.png", "a.bin", "a.glb.mtl", "b.glb", "c.txt"]
    assert group_loose(names, Path("/inbox"), None, lambda path: ()) == [
        ["a.bin", "a.glb", "a.glb.mtl", "a.png"],
        ["b.glb"],
        ["c.txt"],
    ]
