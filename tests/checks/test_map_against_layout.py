"""Checks of a map against the layout it is painted for: both sides of every limit, and what must be left alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.support.laid_props import SIZE, Sheet, apart, painted, sheet
from tests.support.mesh_props import mesh_file, part
from tests.support.painted_props import Pictures, paint, pictures_of, told, told_of, wearing
from tidegate.model.check import Scope
from tidegate.model.finding import Finding
from tidegate.model.image_header import ImageLayer
from tidegate.model.prop import Binding, DropFile, Master, Prop

BOXES = ((100, 100, 400, 400), (600, 200, 900, 700))
SHEETS = tuple(sheet(*box) for box in BOXES)
LAID = {"base_color": paint(BOXES, bleed=4)}


def texels(box: tuple[int, int, int, int]) -> tuple[slice, slice]:
    """Rows and columns of a box with y up."""
    x0, y0, x1, y1 = box
    return slice(SIZE - y1, SIZE - y0), slice(x0, x1)


@pytest.mark.parametrize(("wanted", "amount"), [(4, 0), (5, 1)])
def test_bleed_from_both_sides(wanted: int, amount: int) -> None:
    found = told_of("bleed-too-narrow", LAID, *SHEETS, texels=wanted)
    assert len(found) == amount
    if found:
        (one,) = found
        assert (one.measured, one.wanted, one.place.islands, one.place.map) == (4, 5, (1, 2), "oak_base_color.png")
        # The longest bare edge is a long side of the larger island, five texels out; round corners the paint reaches further.
        assert one.place.pixel_box == (595, SIZE - 700, 596, SIZE - 200)


def test_bleed_of_one_island_and_where_to_look() -> None:
    image = LAID["base_color"].copy()
    rows, columns = texels((600, 700, 900, 704))
    image[rows, columns] = 0  # above the second island the paint was cut off
    (one,) = told_of("bleed-too-narrow", {"base_color": image}, *SHEETS, texels=4)
    assert (one.measured, one.place.islands) == (0, (2,))
    # Of the 300 texels of edge those beside the corners are as near to paint: the box is that of the bare ones.
    assert one.place.pixel_box == (600, SIZE - 704, 900, SIZE - 700)
    assert "300 texels" in one.message


def test_islands_side_by_side_leave_each_other_no_room_and_need_none() -> None:
    boxes = ((100, 100, 400, 400), (402, 100, 700, 400))
    image = paint(((100, 100, 700, 400),), bleed=4)
    assert told_of("bleed-too-narrow", {"base_color": image}, *(sheet(*box) for box in boxes), texels=4) == []


@pytest.mark.parametrize("ground", [0, 255, 127])
def test_any_ground_shows(ground: int) -> None:
    image = {"base_color": paint(BOXES, bleed=1, ground=ground)}
    image["base_color"][image["base_color"] == 127] = 127
    assert len(told_of("bleed-too-narrow", image, *SHEETS, texels=4)) == 1


def test_paint_without_a_ground_is_left_alone() -> None:
    noise = np.random.default_rng(8).integers(0, 256, (SIZE, SIZE, 3), np.uint8)
    flat_islands = np.full((SIZE, SIZE, 3), 90, np.uint8)  # the whole map in the color of the islands
    flat_islands[:200, :200] = 30
    for image in (noise, flat_islands):
        for check in ("bleed-too-narrow", "unpainted-texels", "painted-for-another-layout"):
            assert told_of(check, {"base_color": image}, *SHEETS) == []


def test_a_map_that_many_things_share_is_left_alone() -> None:
    """Half of what lies far from the islands is painted for others; the islands end where their cell ends."""
    image = paint((*BOXES, (20, 720, 1000, 1000), (450, 20, 590, 700)), bleed=0)
    assert told_of("bleed-too-narrow", {"base_color": image}, *SHEETS) == []
    assert told_of("unpainted-texels", {"base_color": image}, sheet(350, 350, 450, 450)) == []


def test_islands_on_cells_of_a_palette() -> None:
    """Eight by eight cells of one color each; every face lies on a few texels in the middle of one."""
    tones = np.random.default_rng(4).integers(0, 256, (8, 8, 3), np.uint8)
    image = {"base_color": np.kron(tones, np.ones((16, 16, 1), np.uint8))}
    small = [sheet(128 * i + 60, 128 * i + 60, 128 * i + 68, 128 * i + 68) for i in range(8)]
    for check in ("bleed-too-narrow", "unpainted-texels", "painted-for-another-layout", "seam-visible"):
        assert told_of(check, image, *small) == []


def test_a_map_made_to_repeat_is_left_alone() -> None:
    image = paint(((100, 100, 900, 900),), bleed=0)
    for check in ("bleed-too-narrow", "unpainted-texels", "painted-for-another-layout"):
        assert told_of(check, {"base_color": image}, sheet(-500, 100, 1500, 900)) == []


@pytest.mark.parametrize(("side", "amount"), [(30, 0), (31, 1)])
def test_unpainted_places_from_both_sides_of_the_share(side: int, amount: int) -> None:
    """30 x 30 of 300 x 300 texels are a hundredth; the ground is grey, since on black it is only a note."""
    image = paint(BOXES, bleed=4, ground=20)
    rows, columns = texels((200, 200, 200 + side, 200 + side))
    image[rows, columns] = 20
    found = told_of("unpainted-texels", {"base_color": image}, *SHEETS)
    assert len(found) == amount
    if found:
        (one,) = found
        assert (one.level, one.place.islands) == ("", (1,))
        assert one.place.pixel_box == (200, SIZE - 200 - side, 200 + side, SIZE - 200)
        assert one.measured == pytest.approx(side * side / 90_000, rel=1e-3)


def test_scattered_bare_texels_are_no_place() -> None:
    image = paint(BOXES, bleed=4, ground=20)
    rows, columns = texels(BOXES[0])
    image[rows, columns][::9, ::9] = 20  # 1.2 % of the island, one texel each
    assert told_of("unpainted-texels", {"base_color": image}, *SHEETS) == []
    assert len(told_of("unpainted-texels", {"base_color": image}, *SHEETS, least_place=1)) == 1


def test_a_black_ground_may_be_what_a_bake_left() -> None:
    image = paint(BOXES, bleed=4)
    rows, columns = texels((200, 200, 300, 300))
    image[rows, columns] = 0
    assert [one.level for one in told_of("unpainted-texels", {"base_color": image}, *SHEETS)] == ["note"]


def test_paint_that_fades_into_the_ground_is_no_hole() -> None:
    image = paint(BOXES, bleed=4, ground=20)
    rows, columns = texels((200, 200, 300, 300))
    depth = np.minimum(np.abs(np.arange(-50, 50)), 45)[:, None, None]
    image[rows, columns] = 20 + np.maximum(depth - 8, 0)  # 17 bare rows, and 48 more within 24 codes of the ground
    assert told_of("unpainted-texels", {"base_color": image}, *SHEETS) == []


@pytest.mark.parametrize(("off", "amount"), [(0, 1), (3, 1), (4, 0), (12, 0)])
def test_in_a_lossy_map_a_hole_is_of_the_grounds_own_color(off: int, amount: int) -> None:
    """Up to 12 codes off the ground may be ground, but plain paint that is merely like it is no hole."""
    image = paint(BOXES, bleed=4, ground=20)
    rows, columns = texels((200, 200, 300, 300))
    image[rows, columns] = 20 + off
    found = told_of("unpainted-texels", {"base_color": image}, *SHEETS, header={"format": "jpeg", "lossy": True})
    assert len(found) == amount


@pytest.mark.parametrize(("beside", "amount"), [(33, 1), (32, 0)])
def test_a_hole_is_told_though_the_island_has_paint_near_the_ground_elsewhere(beside: int, amount: int) -> None:
    """A plain dark area of three quarters of the island says nothing of a hole in the rest; one right around it does: 12 codes
    from the ground is where it begins to fade."""
    image = paint(BOXES, bleed=4, ground=20)
    rows, columns = texels((100, 200, 400, 400))
    image[rows, columns] = 26
    rows, columns = texels((200, 120, 240, 160))
    image[rows.start - 10 : rows.stop + 10, columns.start - 10 : columns.stop + 10] = beside
    image[rows, columns] = 20  # 1600 of 90000 texels
    assert len(told_of("unpainted-texels", {"base_color": image}, *SHEETS)) == amount


L_SHAPE = (sheet(100, 100, 300, 900), sheet(330, 100, 900, 300))
L_PAINT = paint(((100, 100, 300, 900), (330, 100, 900, 300)), bleed=4)


@pytest.mark.parametrize(
    ("turn", "says"),
    [
        (lambda a: a, None),
        (lambda a: np.rot90(a, -1), "turned 90 degrees clockwise"),
        (lambda a: np.rot90(a, 2), "turned 180 degrees"),
        (lambda a: a[:, ::-1], "mirrored left to right"),
        (lambda a: a[::-1], "mirrored top to bottom"),
        (lambda a: np.roll(a, 256, 1), "moved by 0.2"),
    ],
)
def test_painted_for_this_layout_in_another_position(turn: object, says: str | None) -> None:
    image = {"base_color": np.ascontiguousarray(turn(L_PAINT))}
    found = told_of("painted-for-another-layout", image, *L_SHAPE)
    assert len(found) == (says is not None)
    assert all(says in one.message for one in found if says)


@pytest.mark.parametrize(
    ("turn", "level"),
    [(lambda a: a[:, ::-1], ""), (lambda a: np.rot90(a, 2), ""), (lambda a: np.roll(a, 256, 1), "warning")],
)
def test_a_map_turned_or_mirrored_is_certain_and_one_that_is_moved_a_warning(turn: object, level: str) -> None:
    (one,) = told_of("painted-for-another-layout", {"base_color": np.ascontiguousarray(turn(L_PAINT))}, *L_SHAPE)
    assert (one.level, one.certain, one.wanted, one.unit) == (level, True, 0.97, "share")


def test_maps_turned_alike_are_one_finding_that_names_them() -> None:
    """The roughness is half as large and grey, and only base color is asked about: it is named all the same."""
    check, turned = "painted-for-another-layout", np.ascontiguousarray(np.rot90(L_PAINT, 2))
    small = np.ascontiguousarray(turned[::2, ::2, 0])
    maps = {"base_color": turned, "normal": turned, "roughness": small}
    for slots in (["base_color"], ["roughness", "base_color", "normal"]):
        (one,) = told_of(check, maps, *L_SHAPE, slots=slots)
        first = f"oak_{slots[0]}.png"
        others = [f"oak_{slot}.png" for slot in sorted(maps) if slot != slots[0]]
        assert (one.place.map, one.also_maps, one.level) == (first, tuple(others), "")
        assert one.message.endswith(f"it is painted for another layout, and so are {' and '.join(others)}")
        assert one.help.startswith("export the maps for this layout, or bring back the layout they were painted for")


def test_a_map_turned_another_way_and_a_right_one_are_not_named_with_it() -> None:
    check, slots = "painted-for-another-layout", ["base_color", "normal", "roughness"]
    maps = {"base_color": np.ascontiguousarray(np.rot90(L_PAINT, 2)), "normal": np.ascontiguousarray(L_PAINT[::-1])}
    maps["roughness"] = np.ascontiguousarray(L_PAINT[..., 0])
    found = told_of(check, maps, *L_SHAPE, slots=slots)
    assert [(one.place.map, one.also_maps) for one in found] == [("oak_base_color.png", ()), ("oak_normal.png", ())]
    assert "turned 180 degrees" in found[0].help
    assert "mirrored top to bottom" in found[1].help
    maps["normal"] = maps["base_color"]
    (one,) = told_of(check, maps, *L_SHAPE, slots=slots)
    assert one.message.endswith("it is painted for another layout, and so is oak_normal.png")


@pytest.mark.parametrize("end", [0.6, 0.9])
def test_how_much_may_be_painted_as_it_lies_before_a_mirrored_map_is_a_warning(end: float) -> None:
    """Two bars whose mirror image leaves about a fifth of them bare: sure or not as the limit lies above or below that share."""
    boxes = ((100, 100, 300, 924), (300, 100, 400, 512))  # the mirror image is laid out from the other end of the map
    image = {"base_color": np.ascontiguousarray(paint(boxes, bleed=4)[::-1])}
    shapes = tuple(sheet(*box) for box in boxes)
    # 200 x 824 and 100 x 412 texels; upside down the second lies from 512 to 924, all of it but its bleed bare: .8 stay painted.
    (one,) = told_of("painted-for-another-layout", image, *shapes, as_it_is=end)
    assert one.measured == pytest.approx(0.8, abs=0.01)
    assert one.level == ("warning" if end < 0.8 else "")


def test_a_low_map_is_held_against_the_layout_at_its_own_size() -> None:
    """The roughness is saved at a quarter of the size: 4 texels of bleed are 1 there."""
    maps = {"base_color": LAID["base_color"], "roughness": np.ascontiguousarray(LAID["base_color"][::4, ::4, 0])}
    assert told_of("bleed-too-narrow", maps, *SHEETS, texels=1) == []
    (one,) = told_of("bleed-too-narrow", maps, *SHEETS, texels=2)
    assert (one.place.map, one.measured) == ("oak_roughness.png", 1)


def joined(*, gap: float = 60.0, bend: float = 0.0) -> Sheet:
    """Two squares that meet on the surface along one edge and lie apart in the tile. bend: degrees between them."""
    cos, sin = np.cos(np.radians(bend)), np.sin(np.radians(bend))
    first = [[0, 0, 0], [0.5, 0, 0], [0.5, 0.5, 0], [0, 0.5, 0]]
    second = [[0.5, 0, 0], [0.5 + cos / 2, 0, sin / 2], [0.5 + cos / 2, 0.5, sin / 2], [0.5, 0.5, 0]]
    points = np.array(first + second)
    corners = np.array([[0, 1, 2], [0, 2, 3], [4, 5, 6], [4, 6, 7]])
    one = np.array([[100, 100], [356, 100], [356, 356], [100, 356]], float)
    uv = np.concatenate([one, one + np.array([256 + gap, 0])]) / SIZE
    return Sheet(points, corners, uv)


def across(step: int, *, noise: int = 2) -> np.ndarray:
    """Paint that goes on from the first square to the second but for `step` codes; 16 texels of bleed."""
    image = np.full((SIZE, SIZE, 3), 20, np.uint8)
    row = np.arange(256 + 32) / 288
    wave = 120 + 40 * np.sin(7 * row)[:, None, None] + np.random.default_rng(1).integers(-noise, noise + 1, (288, 1, 1))
    image[SIZE - 372 : SIZE - 84, 84:372] = np.rint(wave)
    image[SIZE - 372 : SIZE - 84, 400:688] = np.rint(wave + step)
    return image


@pytest.mark.parametrize(("step", "amount"), [(0, 0), (15, 0), (17, 1)])
def test_seams_from_both_sides(step: int, amount: int) -> None:
    """0.06 of 255 codes are 15.3; what shows in means along the seam is left aside here."""
    found = told_of("seam-visible", {"base_color": across(step)}, joined(), lighter=1)
    assert len(found) == amount
    if found:
        assert found[0].place.islands == (1, 2)
        assert found[0].measured == pytest.approx(step / 255, abs=0.002)
        x0, y0, x1, y1 = found[0].place.pixel_box or (0, 0, 0, 0)
        assert (x0, x1) == (356, 357) or (x0, x1) == (355, 356)
        assert y0 <= SIZE - 350 and y1 >= SIZE - 110


def seam(image: np.ndarray, **more: float) -> list[Finding]:
    return told_of("seam-visible", {"base_color": image}, joined(**more))


def test_two_materials_that_meet_and_sharp_edges_are_no_seams() -> None:
    assert seam(across(80)) == []  # an even step of nearly a third of the range is meant
    assert len(seam(across(30), bend=35)) == 1
    assert seam(across(30), bend=45) == []


def with_master(image: np.ndarray, merged: object, layers: tuple[ImageLayer, ...] = ()) -> tuple[Prop, Pictures]:
    prop = wearing({"base_color": image}, *SHEETS)
    header = replace(prop.maps[0].header, format="psd")
    prop = replace(prop, masters=(Master("oak.psd", "oak.psd", header, "oak_base_color.png"),))
    return prop, Pictures({"oak_base_color.png": image, "oak.psd": merged}, {"oak.psd": layers})


@pytest.mark.parametrize(("side", "amount"), [(32, 0), (33, 1)])
def test_a_master_that_was_painted_on(side: int, amount: int) -> None:
    """A thousandth of 1024 x 1024 texels are 1048: 32 x 32 are less, 33 x 33 more."""
    merged = LAID["base_color"].copy()
    merged[500 : 500 + side, 200 : 200 + side] ^= 128
    found = told("map-unlike-master", *with_master(LAID["base_color"], merged))
    assert len(found) == amount
    if found:
        x0, y0, x1, y1 = found[0].place.pixel_box or (0, 0, 0, 0)
        assert x0 <= 200 and y0 <= 500 and x1 >= 200 + side and y1 >= 500 + side and x1 - x0 < 64


@pytest.mark.parametrize(
    ("master", "texture", "says"),
    [
        (10_000 + 7800, 10_000, "; the master is newer by 2 h 10 min"),
        (10_000, 10_000 + 300, "; the map is newer by 5 min"),
        (10_000, 10_000 + 299, ""),
        (10_000 + 299, 10_000, ""),
        (10_000 + 2 * 86_400 + 3 * 3600 + 120, 10_000, "; the master is newer by 2 d 3 h"),
        (0, 10_000, ""),
        (10_000, 0, ""),
    ],
)
def test_which_of_the_two_is_newer_is_told_and_decides_nothing(master: int, texture: int, says: str) -> None:
    files = tuple(
        DropFile(path, kind, 1, path, changed=at * 1_000_000_000)
        for path, kind, at in (("oak.psd", "master", master), ("oak_base_color.png", "map", texture))
    )
    merged = LAID["base_color"].copy()
    merged[500:600, 200:300] ^= 128
    prop, pictures = with_master(LAID["base_color"], merged)
    (one,) = told("map-unlike-master", replace(prop, files=files), pictures)
    assert one.message.endswith(f"of 255{says}")
    prop, pictures = with_master(LAID["base_color"], LAID["base_color"])
    assert told("map-unlike-master", replace(prop, files=files), pictures) == []


def test_a_master_of_another_size_or_shape() -> None:
    half = LAID["base_color"].reshape(512, 2, 512, 2, 3).mean(axis=(1, 3)).round().astype(np.uint8)
    assert told("map-unlike-master", *with_master(half, LAID["base_color"])) == []
    (one,) = told("map-unlike-master", *with_master(LAID["base_color"], LAID["base_color"][:512]))
    assert "another ratio" in one.message


def test_a_guide_left_visible_is_named_and_not_called_paint() -> None:
    merged = LAID["base_color"].copy()
    for x0, y0, x1, y1 in BOXES:
        merged[[SIZE - y0 - 1, SIZE - y1], x0:x1] = 255
        merged[SIZE - y1 : SIZE - y0, [x0, x1 - 1]] = 255
        steps = np.arange(2 * (y1 - y0)) / (2 * (y1 - y0))
        merged[SIZE - 1 - (y0 + steps * (y1 - y0)).astype(int), (x0 + steps * (x1 - x0)).astype(int)] = 255
    drop = with_master(LAID["base_color"], merged)
    (one,) = told("guide-left-in-master", *drop)
    assert "the lines of the layout" in one.message
    assert told("map-unlike-master", *drop) == []
    assert told("guide-left-in-master", *with_master(LAID["base_color"], LAID["base_color"])) == []


@pytest.mark.parametrize(
    ("layer", "amount"),
    [
        (ImageLayer("Guide sheet"), 1),
        (ImageLayer("Guide sheet", visible=False), 0),
        (ImageLayer("Guide sheet", opacity=0.0), 0),
        (ImageLayer("misguided"), 0),
        (ImageLayer("rust"), 0),
    ],
)
def test_layers_named_as_guides(layer: ImageLayer, amount: int) -> None:
    layers = (ImageLayer("paint"), layer)
    found = told("guide-left-in-master", *with_master(LAID["base_color"], LAID["base_color"], layers))
    assert len(found) == amount


def test_every_map_and_master_is_decoded_once() -> None:
    from tests.support.painted_props import facts_with

    prop, pictures = with_master(LAID["base_color"], LAID["base_color"])
    facts = facts_with(prop, pictures, "painted", "masters", "flatness")
    assert sorted(pictures.asked) == ["oak.psd", "oak_base_color.png"]
    assert len(facts.painted) == len(facts.pixels) == len(facts.masters) == len(facts.flatness) == 1


def test_maps_of_every_variant_are_held_against_the_one_layout() -> None:
    prop = wearing({"base_color": LAID["base_color"]}, *SHEETS)
    blue = replace(prop.maps[0], path="oak_blue_base_color.png", variant="blue")
    prop = replace(
        prop,
        maps=(blue, prop.maps[0]),
        bindings=(*prop.bindings, Binding("a.glb", "oak", "base_color", blue.path, "name", variant="blue")),
    )
    pictures = Pictures({"oak_base_color.png": LAID["base_color"], blue.path: paint(BOXES, bleed=1)})
    (one,) = told("bleed-too-narrow", prop, pictures, texels=4)
    assert (one.place.map, one.place.variant, one.measured) == ("oak_blue_base_color.png", "blue", 1)
    assert told("bleed-too-narrow", prop, pictures, texels=4, scope=Scope(variant=("",))) == []


def test_a_level_of_detail_on_the_models_map_is_not_what_it_was_painted_for() -> None:
    whole, coarse = apart(*SHEETS), sheet(80, 80, 950, 950)
    parts = [part(one.points, one.triangles, uv=one.uv, material=0) for one in (whole, coarse)]
    prop = painted(parts[0])
    lod = mesh_file(replace(parts[1], role="lod1"), path="b.glb", role="lod1", materials=prop.meshes[0].materials)
    prop = replace(
        prop,
        meshes=(*prop.meshes, lod),
        bindings=(*prop.bindings, replace(prop.bindings[0], mesh_file="b.glb")),
    )
    assert told("unpainted-texels", prop, pictures_of(LAID)) == []
