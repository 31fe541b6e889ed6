"""From the files of a drop to its props, with small stand-ins for the readers of meshes and headers."""

import tomllib
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.errors import NoReader, UnreadableFile
from tidegate.load.drop import read_props
from tidegate.load.listing import kind_of, list_drop
from tidegate.model.image_header import ImageHeader
from tidegate.model.mesh import MapSlot, Material, MeshFile, MeshPart, Node, UvLayer
from tidegate.model.name_scheme import read_scheme
from tidegate.model.prop import Binding, Drop, DropFile, Prop
from tidegate.model.reference import FileReference

SCHEME = read_scheme(tomllib.loads((Path(__file__).parents[2] / "rules" / "names.toml").read_text("utf-8")))

Slots = dict[str, str]  # slot -> reference text; "channels" follow the slot behind a point: "roughness.g"


def part(node: str = "", mesh: str = "", material: int = 0, size: float = 1.0, triangles: int = 1) -> MeshPart:
    corners = np.array([[0, 0, 0], [size, 0, 0], [0, size, 0]], dtype=np.float64)
    faces = np.tile(np.array([[0, 1, 2]], dtype=np.int32), (triangles, 1))
    layer = UvLayer(0, "TEXCOORD_0", corners[:, :2].copy(), faces)
    return MeshPart(node, mesh, material, corners, faces, (layer,))


class Shelf:
    """A drop in a temporary folder whose mesh files are made from words instead of bytes."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.meshes: dict[str, Callable[[Any, str], MeshFile]] = {}
        self.layers: dict[str, int] = {}
        self.headers_read: list[str] = []

    def file(self, *names: str, layers: int = 0) -> "Shelf":
        for name in names:
            place = self.folder / name
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(name.encode())
            self.layers[Path(name).name] = layers
        return self

    def mesh(
        self,
        name: str,
        materials: dict[str, Slots] | None = None,
        parts: Sequence[MeshPart] | None = None,
        nodes: Sequence[Node] = (),
        stated_as: str = "",
    ) -> "Shelf":
        """A mesh file. materials: name -> slots; one part wears each unless `parts` says otherwise."""
        self.file(name)
        given = materials or {}

        def made(folder: Any, path: str) -> MeshFile:
            references: list[FileReference] = []
            made_materials = []
            for material, slots in given.items():
                made_slots = []
                for key, text in slots.items():
                    slot, _, channels = key.partition(".")
                    if text.startswith("embedded"):
                        reference = FileReference(text, "image", "embedded", name=text, blob=text.encode())
                    else:
                        reference = folder.resolve(text, base="", kind="image", percent_encoded=False)
                    known = [one.text for one in references]
                    if text not in known:
                        references.append(reference)
                        known.append(text)
                    made_slots.append(MapSlot(slot, channels or "rgb", stated_as or slot, known.index(text)))
                made_materials.append(Material(material, tuple(made_slots)))
            worn = parts if parts is not None else [part(material=i) for i in range(len(given))] or [part(material=-1)]
            return MeshFile(
                path, path.rsplit(".", 1)[-1], tuple(worn), tuple(made_materials), tuple(references), tuple(nodes)
            )

        self.meshes[name] = made
        return self

    def broken(self, name: str, fault: Exception) -> "Shelf":
        self.file(name)

        def fail(folder: Any, path: str) -> MeshFile:
            raise fault

        self.meshes[name] = fail
        return self

    def read(self, drop: Drop | None = None, libraries: Sequence[Path] = ()) -> tuple[Prop, ...]:
        def read_mesh(folder: Any, path: str, *, unit: float, up_axis: str, limits: Any) -> MeshFile:
            assert (unit, up_axis) == (0.01, "z")
            return self.meshes[path](folder, path)

        def read_header(source: Path | bytes, name: str) -> ImageHeader:
            if isinstance(source, bytes):
                return ImageHeader("png", len(source), 8, 8)
            self.headers_read.append(name)
            return ImageHeader("png", source.stat().st_size, 16, 16, layers=self.layers.get(name, 0))

        return read_props(
            drop or list_drop(self.folder, SCHEME),
            SCHEME,
            unit=0.01,
            up_axis="z",
            libraries=libraries,
            read_mesh=read_mesh,
            read_header=read_header,
        )

    def one(self, **more: Any) -> Prop:
        (prop,) = self.read(**more)
        return prop


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    (tmp_path / "bench").mkdir()
    return Shelf(tmp_path / "bench")


def short(bindings: Sequence[Binding]) -> list[tuple[str, str, str, str]]:
    return [(b.material, b.slot, b.file, b.how) for b in bindings]


def codes(prop: Prop) -> list[str]:
    return [note.code for _, note in prop.notes]


# Grouping ----------------------------------------------------------------------------------------------------------


def test_a_simple_prop(shelf: Shelf) -> None:
    shelf.mesh("furniture_bench_v003.glb", {"oak": {"base_color": "bench_base_color.png"}})
    shelf.file("bench_base_color.png", "bench_base_color.psd", "bench_normal.png", "readme.txt")
    prop = shelf.one()
    assert prop.name == "bench"
    assert prop.fields == (("asset", "bench"), ("category", "furniture"), ("version", "v003"))
    assert short(prop.bindings) == [
        ("oak", "base_color", "bench_base_color.png", "both"),
        ("oak", "normal", "bench_normal.png", "name"),
    ]
    assert [(m.path, m.slots, m.variant, m.tile) for m in prop.maps] == [
        ("bench_base_color.png", ("base_color",), "", None),
        ("bench_normal.png", ("normal",), "", None),
    ]
    assert [(m.path, m.map) for m in prop.masters] == [("bench_base_color.psd", "bench_base_color.png")]
    assert [f.path for f in prop.files] == [
        "bench_base_color.png",
        "bench_base_color.psd",
        "bench_normal.png",
        "furniture_bench_v003.glb",
    ]
    assert all(len(f.sha256) == 64 for f in prop.files)
    assert prop.maps[0].sha256 == prop.files[0].sha256
    assert prop.stray == ("readme.txt",)
    assert prop.variants == ("",)
    assert (prop.meshes[0].role, prop.meshes[0].parts[0].role) == ("model", "model")


def test_roles_by_file_name_are_one_prop(shelf: Shelf) -> None:
    for name in ("bench.glb", "bench_lod2.glb", "bench_lod1.glb", "bench_collision.glb"):
        shelf.mesh(name, {"oak": {}})
    prop = shelf.one()
    assert [(m.path, m.role) for m in prop.meshes] == [
        ("bench.glb", "model"),
        ("bench_collision.glb", "collision"),
        ("bench_lod1.glb", "lod1"),
        ("bench_lod2.glb", "lod2"),
    ]
    assert prop.doubles == ()


def test_roles_by_node_names_inside_one_file(shelf: Shelf) -> None:
    nodes = [
        Node("scene", -1, ""),
        Node("bollard_lod2", 0, ""),
        Node("body", 1, "m"),
        Node("bollard", 0, "m"),
    ]
    parts = [
        part("bollard", material=-1),
        part("bollard_lod1", material=-1),
        part("bollard_LOD0", material=-1),
        part("bollard_collision", material=-1),
        part("body", material=-1),
        part("", "bollard_collision", material=-1),
    ]
    shelf.mesh("bollard.glb", {}, parts, nodes)
    (mesh,) = shelf.one().meshes
    assert [p.role for p in mesh.parts] == ["model", "lod1", "model", "collision", "lod2", "collision"]


def test_the_role_of_the_file_holds_for_parts_that_state_none(shelf: Shelf) -> None:
    shelf.mesh("bollard_lod1.glb", {}, [part("bollard", material=-1), part("bollard_collision", material=-1)])
    (mesh,) = shelf.one().meshes
    assert [p.role for p in mesh.parts] == ["lod1", "collision"]


def test_different_assets_are_props_that_share_maps(shelf: Shelf) -> None:
    shelf.mesh("cup.glb", {"enamel": {"base_color": "enamel_base_color.png"}})
    shelf.mesh("jug.glb", {"enamel": {"base_color": "enamel_base_color.png"}})
    shelf.file("enamel_base_color.png", "jug_normal.png", "what.txt")
    cup, jug = shelf.read()
    assert (cup.name, jug.name) == ("cup", "jug")
    assert [m.path for m in cup.maps] == ["enamel_base_color.png"]
    assert [m.path for m in jug.maps] == ["enamel_base_color.png", "jug_normal.png"]
    assert short(jug.bindings)[1] == ("enamel", "normal", "jug_normal.png", "name")
    assert (cup.stray, jug.stray) == (("what.txt",), ())
    assert shelf.headers_read.count("enamel_base_color.png") == 1
    assert [r.kind for r in cup.readings if r.kind == "folder"] == ["folder"]
    assert not [r for r in jug.readings if r.kind == "folder"]


def test_the_same_mesh_in_two_formats_is_measured_once(shelf: Shelf) -> None:
    shelf.mesh("bench.obj", {"oak": {"base_color": "only_obj.png"}}).mesh("bench.glb", {"oak": {}})
    shelf.file("only_obj.png")
    prop = shelf.one()
    assert ([m.path for m in prop.meshes], [m.path for m in prop.doubles]) == (["bench.glb"], ["bench.obj"])
    assert codes(prop) == ["same-mesh-twice"]
    assert prop.notes[0][1].level == "note"
    assert prop.stray == ()
    assert "bench.obj" in [f.path for f in prop.files]


@pytest.mark.parametrize(
    ("other", "told"),
    [
        (part(triangles=2), "triangles 1 and 2"),
        (part(size=1.002), "size"),
        (part(size=100.0), "size"),
    ],
)
def test_two_exports_that_differ_are_told(shelf: Shelf, other: MeshPart, told: str) -> None:
    shelf.mesh("bench.glb", {"oak": {}}, [part()]).mesh("bench.obj", {"oak": {}}, [other])
    (_, note) = shelf.one().notes[0]
    assert (note.code, note.level) == ("exports-differ", "warning")
    assert told in note.message


def test_two_exports_may_differ_by_rounding(shelf: Shelf) -> None:
    shelf.mesh("bench.glb", {"oak": {}}, [part()]).mesh("bench.obj", {"oak": {}}, [part(size=1.0009)])
    assert codes(shelf.one()) == ["same-mesh-twice"]


def test_missing_files_of_the_second_export_are_not_lost(shelf: Shelf) -> None:
    shelf.mesh("bench.glb", {"oak": {}}).mesh("bench.obj", {"oak": {"base_color": "gone.png"}})
    prop = shelf.one()
    assert "reference-missing" in codes(prop)
    assert any("gone.png" in note.message for _, note in prop.notes)


def test_of_two_versions_the_higher_is_measured(shelf: Shelf) -> None:
    shelf.mesh("bench_v002.obj", {"oak": {}}).mesh("bench_v001.glb", {"oak": {}})
    prop = shelf.one()
    assert [m.path for m in prop.meshes] == ["bench_v002.obj"]
    assert codes(prop) == ["two-versions"]


# Meshes that cannot be read ----------------------------------------------------------------------------------------


def test_an_unreadable_mesh_is_told_and_keeps_its_files(shelf: Shelf) -> None:
    fault = UnreadableFile("the file ends early", path="bench.glb", came="12 of 40 bytes", help="export it again")
    shelf.broken("bench.glb", fault).file("bench_base_color.png", "odd.png", "bench.bin")
    prop = shelf.one()
    assert prop.name == "bench"
    assert prop.unreadable == (("bench.glb", "the file ends early (12 of 40 bytes)", "export it again"),)
    assert prop.meshes == ()
    assert prop.stray == ()
    assert [f.path for f in prop.files] == ["bench.bin", "bench.glb", "bench_base_color.png", "odd.png"]
    assert [m.path for m in prop.maps] == ["bench_base_color.png"]


def test_a_reader_that_trips_is_no_traceback(shelf: Shelf) -> None:
    shelf.broken("bench.glb", ZeroDivisionError("oops")).mesh("bench_lod1.glb", {"oak": {}})
    prop = shelf.one()
    assert [m.path for m in prop.meshes] == ["bench_lod1.glb"]
    assert prop.unreadable[0][0] == "bench.glb"
    assert "ZeroDivisionError" in prop.unreadable[0][1]


def test_a_format_without_a_reader_is_told(shelf: Shelf) -> None:
    shelf.broken("bench.fbx", NoReader("there is no reader for this format"))
    assert shelf.one().unreadable[0][0] == "bench.fbx"


# Drops without a mesh ----------------------------------------------------------------------------------------------


def test_maps_alone_are_a_prop_without_a_mesh(shelf: Shelf) -> None:
    shelf.file("bench_base_color.png", "crate_normal.png", "crate_normal.psd")
    bench, crate = shelf.read()
    assert (bench.name, bench.meshes, bench.bindings) == ("bench", (), ())
    assert [(m.path, m.slots) for m in bench.maps] == [("bench_base_color.png", ("base_color",))]
    assert crate.masters[0].map == "crate_normal.png"


def test_ordered_assets_tell_variants_where_no_mesh_does(shelf: Shelf) -> None:
    shelf.file("bench_red_base_color.png", "bench_normal.png")
    drop = list_drop(shelf.folder, SCHEME)

    def names(*assets: str) -> list[str]:
        props = read_props(
            drop, SCHEME, unit=1.0, up_axis="y", assets=assets, read_header=lambda source, name: ImageHeader("png", 1)
        )
        return [prop.name for prop in props]

    assert names() == ["bench", "bench_red"]
    assert names("crate", "bench") == ["bench"]


def test_maps_that_state_no_asset_go_with_the_name_of_the_drop(shelf: Shelf) -> None:
    shelf.file("base_color.png", "normal.png")
    prop = shelf.one()
    assert prop.name == "bench"
    assert [m.path for m in prop.maps] == ["base_color.png", "normal.png"]


def test_maps_of_several_assets_and_one_of_none(shelf: Shelf) -> None:
    shelf.file("crate_normal.png", "cup_normal.png", "normal.png")
    assert [(p.name, [m.path for m in p.maps]) for p in shelf.read()] == [
        ("bench", ["normal.png"]),
        ("crate", ["crate_normal.png"]),
        ("cup", ["cup_normal.png"]),
    ]


def test_nothing_to_judge_gives_no_props(shelf: Shelf) -> None:
    assert shelf.read() == ()
    shelf.file("readme.txt", "bench.tidegate.json")
    assert shelf.read() == ()


def test_reports_and_sheets_of_ours_are_ignored_unless_a_mesh_uses_one(shelf: Shelf) -> None:
    shelf.mesh("bench.glb", {"oak": {"base_color": "bench.tidegate.guide.png"}})
    shelf.file("bench.tidegate.guide.png", "bench.tidegate.faults.png", "bench.tidegate.json", "manifest-sha256.txt")
    prop = shelf.one()
    assert [m.path for m in prop.maps] == ["bench.tidegate.guide.png"]
    assert prop.stray == ()
    assert [f.path for f in prop.files] == ["bench.glb", "bench.tidegate.guide.png"]


# Bindings ----------------------------------------------------------------------------------------------------------


def test_names_fill_slots_that_an_obj_does_not_have(shelf: Shelf) -> None:
    shelf.mesh("bench.obj", {"oak": {"base_color": "bench_base_color.png"}})
    shelf.file("bench_base_color.png", "bench_roughness.png", "bench_metalness.png")
    assert short(shelf.one().bindings) == [
        ("oak", "base_color", "bench_base_color.png", "both"),
        ("oak", "metalness", "bench_metalness.png", "name"),
        ("oak", "roughness", "bench_roughness.png", "name"),
    ]


def test_packed_maps_fill_their_channels(shelf: Shelf) -> None:
    shelf.mesh("bench.obj", {"oak": {}}).file("bench_occlusion_roughness_metalness.png")
    prop = shelf.one()
    assert [(b.slot, b.channels) for b in prop.bindings] == [("metalness", "b"), ("occlusion", "r"), ("roughness", "g")]
    assert prop.maps[0].slots == ("metalness", "occlusion", "roughness")


def test_a_wrong_spelling_is_bound_and_a_right_name_proposed(shelf: Shelf) -> None:
    shelf.mesh("bench.obj", {"oak": {}}).file("Bench-Albedo.PNG")
    prop = shelf.one()
    assert short(prop.bindings) == [("oak", "base_color", "Bench-Albedo.PNG", "name")]
    (reading,) = [r for r in prop.readings if r.kind == "map"]
    assert reading.proposal == "bench_base_color.png"


def test_the_use_of_a_map_helps_its_proposal(shelf: Shelf) -> None:
    shelf.mesh("bench.glb", {"oak": {"normal": "wood.png"}}).file("wood.png")
    prop = shelf.one()
    (reading,) = [r for r in prop.readings if r.kind == "map"]
    assert [field for field, _ in reading.problems] == ["map"]
    assert reading.proposal == "wood_normal.png"


@pytest.mark.parametrize(
    ("reference", "slot", "also_there", "disagreement"),
    [
        # the name of the file used says another slot, and the right file lies beside it
        ("bench_roughness.png", "base_color", "bench_base_color.png", "bench_base_color.png"),
        # ... and there is no file with the right name: the slot its own name states
        ("bench_roughness.png", "base_color", "other.txt", "roughness"),
        # a name that says nothing, beside a file that does
        ("wood.png", "base_color", "bench_base_color.png", "bench_base_color.png"),
        # another asset's map, beside the own one
        ("crate_base_color.png", "base_color", "bench_base_color.png", "bench_base_color.png"),
        # nothing to disagree with
        ("wood.png", "base_color", "other.txt", ""),
        ("crate_base_color.png", "base_color", "other.txt", ""),
        ("bench_base_color.png", "base_color", "other.txt", ""),
        # a slot no name can state
        ("bench_roughness.png", "sheen", "other.txt", ""),
        # cut out by the alpha of the base color
        ("bench_base_color.png", "opacity.a", "other.txt", ""),
        # a packed map read in another channel than its name gives
        ("bench_occlusion_roughness_metalness.png", "roughness.g", "other.txt", ""),
        ("bench_occlusion_roughness_metalness.png", "roughness.r", "other.txt", "roughness in channel g"),
    ],
)
def test_disagreements_of_reference_and_name(
    shelf: Shelf, reference: str, slot: str, also_there: str, disagreement: str
) -> None:
    shelf.mesh("bench.glb", {"oak": {slot: reference}}).file(reference, also_there)
    bound = [b for b in shelf.one().bindings if b.file == reference and b.slot == slot.partition(".")[0]]
    assert [b.disagreement for b in bound] == [disagreement]


def test_one_picture_for_roughness_and_metalness_may_be_named_after_one(shelf: Shelf) -> None:
    slots = {"roughness.g": "bench_roughness.png", "metalness.b": "bench_roughness.png"}
    shelf.mesh("bench.glb", {"oak": slots}, stated_as="pbrMetallicRoughness.metallicRoughnessTexture")
    shelf.file("bench_roughness.png")
    assert [b.disagreement for b in shelf.one().bindings] == ["", ""]


def test_a_bump_statement_with_a_normal_map_is_a_normal_map(shelf: Shelf) -> None:
    shelf.mesh("bench.obj", {"oak": {"height": "bench_normal.png"}}, stated_as="map_Bump").file("bench_normal.png")
    assert short(shelf.one().bindings) == [("oak", "normal", "bench_normal.png", "both")]


def test_a_missing_reference_is_filled_by_name(shelf: Shelf) -> None:
    shelf.mesh("bench.obj", {"oak": {"base_color": "old_name.png"}}).file("bench_base_color.png")
    prop = shelf.one()
    assert short(prop.bindings) == [("oak", "base_color", "bench_base_color.png", "name")]
    assert prop.meshes[0].references[0].status == "missing"


def test_embedded_pictures_are_maps(shelf: Shelf) -> None:
    shelf.mesh("bench.glb", {"oak": {"normal": "embedded a", "base_color": "embedded b"}})
    shelf.file("bench_base_color.png")
    prop = shelf.one()
    assert short(prop.bindings) == [
        ("oak", "base_color", "embedded:1", "reference"),
        ("oak", "normal", "embedded:0", "reference"),
    ]
    embedded = [m for m in prop.maps if m.blob is not None]
    assert [(m.path, m.blob, m.header.width) for m in embedded] == [
        ("embedded:0", b"embedded a", 8),
        ("embedded:1", b"embedded b", 8),
    ]
    assert "bench_base_color.png" in [f.path for f in prop.files]


def test_embedded_pictures_of_two_files_stay_apart(shelf: Shelf) -> None:
    for name in ("bench.glb", "bench_lod1.glb"):
        shelf.mesh(name, {"oak": {"base_color": f"embedded in {name}"}})
    prop = shelf.one()
    assert [(m.path, m.blob) for m in prop.maps] == [
        ("embedded:0 of bench.glb", b"embedded in bench.glb"),
        ("embedded:0 of bench_lod1.glb", b"embedded in bench_lod1.glb"),
    ]
    assert {b.file for b in prop.bindings} == {m.path for m in prop.maps}


def test_texture_variants_on_one_mesh(shelf: Shelf) -> None:
    shelf.mesh("bench.glb", {"oak": {"base_color": "bench_red_base_color.png", "normal": "bench_normal.png"}})
    shelf.file("bench_red_base_color.png", "bench_sea_green_base_color.png", "bench_normal.png")
    prop = shelf.one()
    assert prop.variants == ("red", "sea_green")
    assert [(b.slot, b.variant, b.file, b.how) for b in prop.bindings] == [
        ("base_color", "red", "bench_red_base_color.png", "both"),
        ("base_color", "sea_green", "bench_sea_green_base_color.png", "name"),
        ("normal", "", "bench_normal.png", "both"),
    ]
    assert [m.variant for m in prop.maps] == ["", "red", "sea_green"]
    shelf.file("bench_base_color.png")
    assert shelf.one().variants == ("", "red", "sea_green")


def test_a_word_that_names_a_material_is_no_variant(shelf: Shelf) -> None:
    shelf.mesh("storm_lantern.obj", {"iron": {}, "glass": {}})
    shelf.file("storm_lantern_glass_base_color.png", "storm_lantern_iron_base_color.png", "storm_lantern_normal.png")
    prop = shelf.one()
    assert prop.variants == ("",)
    assert short(prop.bindings) == [
        ("glass", "base_color", "storm_lantern_glass_base_color.png", "name"),
        ("glass", "normal", "storm_lantern_normal.png", "name"),
        ("iron", "base_color", "storm_lantern_iron_base_color.png", "name"),
        ("iron", "normal", "storm_lantern_normal.png", "name"),
    ]


def test_words_that_references_keep_apart_are_no_variants(shelf: Shelf) -> None:
    shelf.mesh(
        "storm_lantern.obj",
        {
            "m1": {"base_color": "storm_lantern_glass_base_color.png"},
            "m2": {"base_color": "storm_lantern_iron_base_color.png"},
        },
    )
    shelf.file(
        "storm_lantern_glass_base_color.png", "storm_lantern_iron_base_color.png", "storm_lantern_iron_roughness.png"
    )
    prop = shelf.one()
    assert prop.variants == ("",)
    assert short(prop.bindings) == [
        ("m1", "base_color", "storm_lantern_glass_base_color.png", "both"),
        ("m2", "base_color", "storm_lantern_iron_base_color.png", "both"),
        ("m2", "roughness", "storm_lantern_iron_roughness.png", "name"),
    ]


def test_maps_go_to_the_material_that_wears_their_like(shelf: Shelf) -> None:
    shelf.mesh("bench.obj", {"m1": {"base_color": "bench_base_color.png"}, "m2": {"base_color": "trim.png"}})
    shelf.file("bench_base_color.png", "trim.png", "bench_roughness.png")
    assert ("m1", "roughness", "bench_roughness.png", "name") in short(shelf.one().bindings)
    assert not [b for b in shelf.one().bindings if b.material == "m2" and b.slot == "roughness"]


def test_collision_meshes_want_no_maps(shelf: Shelf) -> None:
    shelf.mesh("bench.glb", {"oak": {}}).mesh("bench_collision.glb", {"hull": {}}).file("bench_base_color.png")
    assert {b.mesh_file for b in shelf.one().bindings} == {"bench.glb"}


def test_tiles_of_a_map(shelf: Shelf) -> None:
    shelf.mesh("wall.obj", {"brick": {"base_color": "wall_base_color.<UDIM>.png"}})
    shelf.file("wall_base_color.1001.png", "wall_base_color.1002.png", "wall_normal_1001.png", "wall_normal_1002.png")
    prop = shelf.one()
    assert [(b.slot, b.tile, b.how) for b in prop.bindings] == [
        ("base_color", 1001, "both"),
        ("base_color", 1002, "both"),
        ("normal", 1001, "name"),
        ("normal", 1002, "name"),
    ]
    assert [m.tile for m in prop.maps] == [1001, 1002, 1001, 1002]
    assert prop.meshes[0].references[0].status == "present"
    assert prop.stray == ()


def test_a_token_without_tiles_stays_missing(shelf: Shelf) -> None:
    shelf.mesh("wall.obj", {"brick": {"base_color": "wall_base_color.<UDIM>.png"}}).file("wall_base_color.2001.png")
    assert shelf.one().meshes[0].references[0].status == "missing"


def test_two_maps_for_one_slot(shelf: Shelf) -> None:
    shelf.mesh("bench.obj", {"oak": {"base_color": "bench_base_color.tga"}})
    shelf.file("bench_base_color.png", "bench_base_color.tga")
    prop = shelf.one()
    assert short(prop.bindings) == [("oak", "base_color", "bench_base_color.tga", "both")]
    assert codes(prop) == ["two-maps-one-slot"]


def test_maps_without_an_asset_belong_to_the_only_prop(shelf: Shelf) -> None:
    shelf.mesh("bench.obj", {"oak": {}}).file("base_color.png", "nothing_known.png", "crate_normal.png")
    prop = shelf.one()
    assert short(prop.bindings) == [("oak", "base_color", "base_color.png", "name")]
    assert prop.stray == ("crate_normal.png", "nothing_known.png")
    (reading,) = [r for r in prop.readings if r.kind == "map"]
    assert reading.proposal == "bench_base_color.png"


def test_maps_in_library_folders(shelf: Shelf, tmp_path: Path) -> None:
    library = tmp_path / "library"
    Shelf(library).file("shared/trim_base_color.png", "bench_normal.png", "benchmark_normal.png", "crate_normal.png")
    shelf.mesh("bench.obj", {"oak": {"base_color": "trim_base_color.png"}})
    prop = shelf.one(libraries=[library])
    trim, normal = (library / "shared/trim_base_color.png").as_posix(), (library / "bench_normal.png").as_posix()
    assert short(prop.bindings) == [("oak", "base_color", trim, "both"), ("oak", "normal", normal, "name")]
    assert all(m.library for m in prop.maps)
    assert [f.path for f in prop.files] == ["bench.obj"]


# Masters -----------------------------------------------------------------------------------------------------------


def test_masters_by_suffix_and_by_layers(shelf: Shelf) -> None:
    shelf.mesh("bench.obj", {"oak": {}})
    shelf.file(
        "bench_base_color.png", "bench_normal.png", "bench_roughness.tif", "bench_height.tif", "bench_normal.ora"
    )
    shelf.file("bench_base_color.tif", "bench_emission.tif", "bench.psd", layers=4)
    shelf.layers["bench_roughness.tif"] = 1
    prop = shelf.one()
    assert [(m.path, m.map) for m in prop.masters] == [
        ("bench.psd", ""),  # all maps at once
        ("bench_base_color.tif", "bench_base_color.png"),
        ("bench_emission.tif", ""),  # layered, and no flat map beside it
        ("bench_normal.ora", "bench_normal.png"),
    ]
    assert [m.path for m in prop.maps] == [
        "bench_base_color.png",
        "bench_height.tif",
        "bench_normal.png",
        "bench_roughness.tif",
    ]


def test_a_flat_tiff_beside_a_flat_map_of_its_name_is_a_master(shelf: Shelf) -> None:
    shelf.mesh("bench.obj", {"oak": {}}).file("bench_base_color.png", "bench_base_color.tif")
    prop = shelf.one()
    assert [(m.path, m.map) for m in prop.masters] == [("bench_base_color.tif", "bench_base_color.png")]


def test_a_layered_file_that_the_mesh_uses_is_a_map(shelf: Shelf) -> None:
    shelf.mesh("bench.glb", {"oak": {"base_color": "bench_base_color.psd"}}).file("bench_base_color.psd", layers=3)
    prop = shelf.one()
    assert ([m.path for m in prop.maps], prop.masters) == (["bench_base_color.psd"], ())


# Bookkeeping -------------------------------------------------------------------------------------------------------


def test_links_that_lead_outside_are_told(shelf: Shelf, tmp_path: Path) -> None:
    (tmp_path / "secret.png").write_bytes(b"x")
    shelf.mesh("bench.glb", {"oak": {"base_color": "bench_base_color.png"}})
    (shelf.folder / "bench_base_color.png").symlink_to(tmp_path / "secret.png")
    prop = shelf.one()
    assert prop.maps == ()
    assert prop.bindings == ()
    assert "not-looked-into" in codes(prop)
    assert prop.stray == ("bench_base_color.png",)


def test_a_map_that_cannot_be_opened_is_told_in_its_header(shelf: Shelf) -> None:
    shelf.mesh("bench.obj", {"oak": {}}).file("bench_base_color.png")
    drop = list_drop(shelf.folder, SCHEME)

    def refuse(source: Path | bytes, name: str) -> ImageHeader:
        raise UnreadableFile("cannot be opened", path=name)

    (prop,) = read_props(
        drop,
        SCHEME,
        unit=1.0,
        up_axis="y",
        read_mesh=lambda folder, path, **terms: shelf.meshes[path](folder, path),
        read_header=refuse,
    )
    assert (prop.maps[0].header.problem, prop.maps[0].header.problem_detail) == ("damaged", "cannot be opened")


def test_names_inside_files_are_read(shelf: Shelf) -> None:
    shelf.mesh("bench.glb", {"Old Oak": {}}, [part("Seat.001")])
    readings = {(r.kind, r.name): r for r in shelf.one().readings}
    assert readings["material", "Old Oak"].proposal == "old_oak"
    assert readings["node", "Seat.001"].proposal == "seat_001"
    assert readings["folder", "bench"].problems == ()
    assert readings["mesh", "bench.glb"].path == "bench.glb"


def test_loose_files_have_no_folder_name(shelf: Shelf) -> None:
    shelf.mesh("bench.glb", {"oak": {}})
    prop = shelf.one(drop=list_drop([shelf.folder / "bench.glb"], SCHEME))
    assert not [r for r in prop.readings if r.kind == "folder"]


def test_fields_of_the_folder_fill_those_of_the_mesh(tmp_path: Path) -> None:
    shelf = Shelf(tmp_path / "furniture_bench_v004")
    shelf.mesh("bench_v003.glb", {"oak": {}})
    assert shelf.one().fields == (("asset", "bench"), ("category", "furniture"), ("version", "v003"))


def test_every_file_is_in_a_prop_or_stray(shelf: Shelf) -> None:
    shelf.mesh("cup.glb", {"a": {}}).mesh("jug.glb", {"a": {}}).broken("pot.glb", UnreadableFile("no"))
    shelf.file("cup_normal.png", "what.png", "x.bin", "jug.mtl", "readme.txt", "cup_normal.psd", "maps/pot_height.tif")
    props = shelf.read()
    held = [file.path for prop in props for file in prop.files] + [path for prop in props for path in prop.stray]
    assert sorted(held) == sorted(file.path for file in list_drop(shelf.folder, SCHEME).files)


def test_the_same_files_give_the_same_props(shelf: Shelf) -> None:
    shelf.mesh("bench.obj", {"oak": {}, "iron": {}}).mesh("bench.glb", {"oak": {"normal": "bench_normal.png"}})
    shelf.file("bench_normal.png", "bench_red_base_color.png", "bench_blue_base_color.png", "bench.psd")
    drop = list_drop(shelf.folder, SCHEME)
    turned = Drop(drop.name, drop.root, drop.files[::-1], drop.is_folder)

    def told(prop: Prop) -> list[Any]:
        return [
            prop.bindings,
            prop.maps,
            prop.masters,
            prop.files,
            prop.fields,
            prop.variants,
            prop.readings,
            prop.notes,
        ]

    assert [told(p) for p in shelf.read(drop)] == [told(p) for p in shelf.read(turned)]


pieces = st.sampled_from(
    [
        "bench",
        "crate",
        "red",
        "blue",
        "base_color",
        "normal",
        "albedo",
        "orm",
        "lod1",
        "collision",
        "v001",
        "1001",
        "x",
        "Ü",
    ]
)
file_names = st.builds(
    lambda parts, joint, suffix: joint.join(parts) + suffix,
    st.lists(pieces, min_size=1, max_size=4),
    st.sampled_from(["_", "_", "_", "-", " "]),
    st.sampled_from([".glb", ".obj", ".png", ".tga", ".psd", ".tif", ".mtl", ".txt", ".tidegate.json"]),
)


@given(
    st.lists(file_names, unique=True, max_size=9),
    st.lists(st.tuples(st.sampled_from(["base_color", "normal", "height"]), file_names), max_size=3),
    st.sampled_from([0, 2]),
)
@settings(max_examples=60, deadline=None)
def test_whatever_the_names_are_every_file_is_accounted_for(
    names: list[str], uses: list[tuple[str, str]], layers: int
) -> None:
    # A mesh that names another prop's mesh as its picture belongs to both; that is tried by hand elsewhere.
    uses = [(slot, text) for slot, text in uses if not text.endswith((".glb", ".obj"))]

    def read_mesh(folder: Any, path: str, **terms: Any) -> MeshFile:
        references = tuple(
            folder.resolve(text, base="", kind="image", percent_encoded=False)
            for text in dict.fromkeys(t for _, t in uses)
        )
        texts = [one.text for one in references]
        slots = tuple(MapSlot(slot, "rgb", slot, texts.index(text)) for slot, text in uses)
        materials = (Material("oak", slots), Material("red"))
        return MeshFile(path, "glb", (part(material=0), part(material=1)), materials, references)

    files = tuple(DropFile(name, kind_of(name, SCHEME), 1, f"/nowhere/{name}") for name in sorted(names))
    props = read_props(
        Drop("bench", "/nowhere", files, True),
        SCHEME,
        unit=1.0,
        up_axis="y",
        read_mesh=read_mesh,
        read_header=lambda source, name: ImageHeader("png", 1, 4, 4, layers=layers),
    )
    judged = [file.path for file in files if file.kind != "report"]
    held = {file.path for prop in props for file in prop.files}
    stray = [path for prop in props for path in prop.stray]
    if props:
        assert held | set(stray) >= set(judged)
        assert not held & set(stray)
        assert len(stray) == len(set(stray))
    else:
        assert not [file for file in files if file.kind in ("mesh", "map", "master")]
    for prop in props:
        assert prop.files
        paths = [one.path for one in prop.maps]
        assert paths == sorted(set(paths))
        assert {binding.file for binding in prop.bindings} <= set(paths)
        assert {binding.variant for binding in prop.bindings} <= {"", *prop.variants}
        places = [(b.mesh_file, b.material, b.slot, b.variant, b.tile) for b in prop.bindings]
        assert len(places) == len(set(places))
        read = [reading.path for reading in prop.readings if reading.kind in ("mesh", "map", "master")]
        assert len(read) == len(set(read))
        # every mesh, map and master of the prop had its name read, every mesh is told one way
        assert set(read) == {file.path for file in prop.files if file.kind in ("mesh", "map", "master")}
        told = [m.path for m in (*prop.meshes, *prop.doubles)] + [path for path, _, _ in prop.unreadable]
        assert sorted(told) == sorted(file.path for file in prop.files if file.kind == "mesh")
