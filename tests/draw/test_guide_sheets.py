"""Guide sheets: lines on the texels worked out here, layers that can be hidden, and the same bytes every time."""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from PIL import Image

from tests.draw.laid_out import Panel, facts_of, mesh_of, panel_facts
from tidegate.draw.guide_files import FORMS
from tidegate.draw.guide_layers import GuideLayers
from tidegate.draw.guide_sheets import guide_sheets
from tidegate.draw.palette import INK, PAPER, Color, ink_on

WHITE = (255, 255, 255)
SQUARE = Panel(0.25, 0.25, 0.75, 0.5)


def only(facts: object, size: int | None = None, **how: object) -> GuideLayers:
    ((_, layers),) = guide_sheets(facts, size, **how)
    return layers


def pixels(data: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(data)))


class TestWire:
    def test_the_square_falls_on_its_texels(self) -> None:
        # At 64 texels: x 16 to 48; V 0.25 to 0.5 is y 48 down to 32. Outlines are twice the line of 1, so they fill the
        # two texels about each border; a texel inside the square and one outside stay bare.
        layers = only(panel_facts(SQUARE), 64)
        layers = replace_open_ends(layers)
        wire = layers.wire
        wanted = np.zeros((64, 64), int)
        wanted[31:33, 15:49] = wanted[47:49, 15:49] = 255
        wanted[31:49, 15:17] = wanted[31:49, 47:49] = 255
        assert wire.tolist() == wanted.tolist()

    def test_v_runs_up(self) -> None:
        wire = only(panel_facts(Panel(0.1, 0.8, 0.9, 0.95)), 64).wire
        rows = np.flatnonzero(wire.max(axis=1))
        assert rows.min() >= 2 and rows.max() <= 14  # 0.8 to 0.95 up is 3.2 to 12.8 down

    def test_a_map_that_is_no_square_keeps_its_sides(self) -> None:
        layers = only(panel_facts(SQUARE, size=(128, 64)), 256)
        assert (layers.width, layers.height) == (256, 128)
        assert only(panel_facts(SQUARE, size=(128, 64))).wire.shape == (64, 128)

    @pytest.mark.parametrize("polygons", [True, False])
    def test_diagonals_of_quads_are_hidden(self, polygons: bool) -> None:
        # Three quads in a row: two inner edges, at u 5/12 and 7/12, whether the file keeps polygons or triangles.
        facts = panel_facts(Panel(0.25, 0.25, 0.75, 0.5, metres=(1.5, 0.5), cells=3), polygons=polygons)
        inner = only(facts, 96).edges.inner
        across = sorted(float(x) for x in inner[0])
        assert across == pytest.approx([40, 56])
        assert inner[0] == pytest.approx(inner[2])

    def test_inner_edges_are_lighter_than_outlines(self) -> None:
        wire = only(panel_facts(Panel(0.25, 0.25, 0.75, 0.75, cells=2)), 64, line=1.0).wire
        middle = wire[32]
        assert middle[31:33].tolist() == [128, 128]  # one texel about x 32, half on either side
        assert middle.sum() > 2 * int(middle[31:33].sum())

    def test_an_open_border_is_dashed_and_a_seam_is_drawn_through(self) -> None:
        # Two panels that meet along one edge of the surface but lie apart in the tile: that edge is a seam.
        one, other = mesh_of([SQUARE]), mesh_of([Panel(0.25, 0.6, 0.75, 0.85)])
        moved = replace(other, positions=other.positions + np.array([0.5, 0.0, 0.0]))
        edges = only(facts_of([one, moved]), 64).edges
        seams = edges.outline[:, edges.seam]
        assert int(edges.seam.sum()) == 2
        assert sorted(seams[0].tolist()) == [16.0, 48.0]  # right side of the one, left side of the other
        layers = only(panel_facts(SQUARE), 64)
        along_the_top = layers.wire[31, 17:47]
        assert 0 in along_the_top and 255 in along_the_top


def replace_open_ends(layers: GuideLayers) -> GuideLayers:
    """The same sheet with all outlines drawn through, as if they were seams."""
    layers.edges = layers.edges._replace(seam=np.ones(len(layers.edges.seam), bool))
    return layers


class TestWhichSheets:
    def test_tiles_of_a_tiled_map_have_a_sheet_each(self) -> None:
        facts = panel_facts(SQUARE, Panel(1.1, 0.1, 1.4, 0.4), tiles=(1001, 1002))
        names = [name for name, _ in guide_sheets(facts)]
        assert names == [
            "fish_crate.tidegate.guide.fish_crate_base_color.1001",
            "fish_crate.tidegate.guide.fish_crate_base_color.1002",
        ]
        second = [layers for _, layers in guide_sheets(facts, 100)][1]
        assert second.edges.outline.min() == pytest.approx(10)  # u 1.1 lies at 0.1 of its own tile
        assert second.rows.tolist() == [1]

    def test_a_repeating_map_takes_all_islands_on_one_sheet(self) -> None:
        layers = only(panel_facts(SQUARE, Panel(1.1, 0.1, 1.4, 0.2)), 100)
        assert len(layers.rows) == 2
        assert layers.edges.outline[0].max() <= 75 + 1e-9

    def test_without_a_map_every_tile_has_its_own(self) -> None:
        sheets = list(guide_sheets(panel_facts(SQUARE, Panel(1.1, 0.1, 1.4, 0.2), Panel(-0.9, 0, -0.5, 1), size=None)))
        assert [name.rsplit(".", 1)[1] for name, _ in sheets] == ["u-1v0", "material_planks", "1002"]
        assert [layers.rows.tolist() for _, layers in sheets] == [[0], [1], [2]]

    def test_names_are_safe_and_apart(self) -> None:
        facts = panel_facts(SQUARE, name="../../fish crate")
        ((name, _),) = guide_sheets(facts)
        assert "/" not in name and not name.startswith(".")


class TestOverTheBorder:
    # At 64 texels: x 48 to 80, of which 64 to 80 come in again at 0 to 16; y 64 - 0.5 x 64 = 32 down to 48.
    OVER = Panel(0.75, 0.25, 1.25, 0.5)

    def test_what_lies_beyond_the_border_of_a_map_that_repeats_is_drawn_at_its_other_end(self) -> None:
        layers = replace_open_ends(only(panel_facts(self.OVER), 64))
        wanted = np.zeros((64, 64), int)
        for x0, x1 in ((47, 64), (0, 17)):
            wanted[31:33, x0:x1] = wanted[47:49, x0:x1] = 255
        wanted[31:49, 47:49] = wanted[31:49, 15:17] = 255
        assert layers.wire.tolist() == wanted.tolist()
        inside = np.zeros((64, 64), bool)
        inside[32:48, 48:64] = inside[32:48, :16] = True
        assert np.array_equal(layers.owner >= 0, inside)
        assert layers.clipped == 0

    def test_it_comes_in_over_a_corner_as_three_more_pieces(self) -> None:
        layers = only(panel_facts(Panel(0.75, 0.75, 1.125, 1.25)), 64)
        inside = np.zeros((64, 64), bool)
        for rows in (slice(0, 16), slice(48, 64)):  # V 0.75 to 1, and 0 to 0.25
            inside[rows, 48:64] = inside[rows, :8] = True
        assert np.array_equal(layers.owner >= 0, inside)

    def test_a_strip_of_very_many_tiles_is_drawn_as_far_as_it_lies_on_the_sheet(self) -> None:
        # 3 texels wide and 600 tiles long at 64 texels: its sides, cut off 8 texels beyond the border, come in 599 times.
        facts = panel_facts(Panel(0.25, 0.0, 0.25 + 3 / 64, 600.0))
        layers = only(facts, 64)
        ends = layers.outline_segments
        assert ends.min() >= -8 - 1e-9 and ends.max() <= 64 + 8 + 1e-9
        assert ends.shape[1] < 2 * 600 * (80 / 14 + 2) + 4  # a dash is 8 texels long and 6 from the next
        layers = replace_open_ends(only(facts, 64))
        assert layers.wire[:, 15:17].all() and layers.wire[:, 18:20].all() and not layers.wire[:, 22:].any()

    def test_a_layout_that_fills_very_many_maps_is_drawn_as_it_lies(self) -> None:
        within, beyond = (only(panel_facts(Panel(0.0, 0.0, 1.0, tiles)), 64) for tiles in (32.0, 32.1))
        assert within.clipped == 0 and len(within.shown.row) == 2 * 32
        assert beyond.clipped == 1 and len(beyond.shown.row) == 2

    def test_open_ends_stay_open_ends(self) -> None:
        edges = only(panel_facts(self.OVER), 64).edges
        assert not edges.seam.any() and len(edges.owner) == edges.outline.shape[1]

    def test_it_is_numbered_in_its_larger_piece_and_only_once(self) -> None:
        (number,) = only(panel_facts(Panel(0.9, 0.25, 1.4, 0.5)), 512).numbers
        assert 0 < number.x < 0.4 * 512

    @pytest.mark.parametrize("tiles", [(1001,), ()])
    def test_where_the_map_ends_it_is_told_that_something_is_not_on_the_sheet(self, tiles: tuple[int, ...]) -> None:
        layers = only(panel_facts(Panel(0.7, 0.3, 1.2, 0.5), SQUARE, tiles=tiles), 64)
        assert layers.clipped == (1 if tiles else 0)
        assert (layers.owner[:, :12] >= 0).any() == (not tiles)

    def test_the_bleed_zone_goes_around_the_border(self) -> None:
        # A panel from the left border to x 16: 4 texels beyond it lie at x 60 to 64 where the map repeats.
        edge = Panel(0.0, 0.25, 0.25, 0.5)
        zone = only(panel_facts(edge), 64, bleed=4).zone
        assert zone[40, 16:20].all() and zone[40, 60:].all() and not zone[40, 20:60].any()
        tiled = only(panel_facts(edge, tiles=(1001,)), 64, bleed=4)
        assert tiled.zone[40, 16:20].all() and not tiled.zone[40, 20:].any()
        around = only(panel_facts(edge), 64, bleed=4).zone_edges
        assert ((around[0] == 64) & (around[2] == 64)).any()  # the stroke of the SVG lies there too
        assert not (tiled.zone_edges[0] == 64).any()


class TestForms:
    def test_lines_alone_are_see_through(self) -> None:
        drawn = pixels(FORMS["png"][1](only(panel_facts(SQUARE), 64, bleed=6), WHITE))
        assert drawn.shape == (64, 64, 4)
        assert drawn[40, 30, 3] == 0 and drawn[5, 5, 3] == 0 and drawn[..., 3].max() == 255

    def test_flat_pictures_lie_on_the_ground_and_agree(self) -> None:
        layers = only(panel_facts(SQUARE), 64, bleed=6)
        png, tga = (pixels(FORMS[form][1](layers, (200, 210, 220))) for form in ("flat", "tga"))
        assert np.array_equal(png, tga)
        assert png[2, 2].tolist() == [200, 210, 220]
        assert png[52, 30].tolist() != [200, 210, 220]  # 48 to 54 down: bleed zone
        assert png[56, 30].tolist() == [200, 210, 220]

    def test_openraster_is_one_and_every_layer_can_be_hidden(self) -> None:
        data = FORMS["ora"][1](only(panel_facts(SQUARE), 64, bleed=4), WHITE)
        # OpenRaster 0.0.5, "File layout": `mimetype` first and not compressed, so its text stands at byte 38.
        assert data[30:54] == b"mimetypeimage/openraster"
        archive = zipfile.ZipFile(io.BytesIO(data))
        assert archive.testzip() is None
        assert {"stack.xml", "mergedimage.png", "Thumbnails/thumbnail.png"} <= set(archive.namelist())
        root = ElementTree.fromstring(archive.read("stack.xml"))
        assert (root.attrib["w"], root.attrib["h"]) == ("64", "64")
        rows = [(layer.attrib["name"], layer.attrib["src"]) for layer in root.iter("layer")]
        assert [name for name, _ in rows] == [
            "markers and numbers",
            "wire, dashed where the surface ends",
            "islands",
            "bleed zone",
            "ground",
        ]
        merged = Image.new("RGBA", (64, 64))
        for _, source in reversed(rows):
            merged.alpha_composite(Image.open(archive.open(source)).convert("RGBA"))
        shown = np.asarray(merged)[..., :3].astype(int)
        assert np.abs(shown - pixels(archive.read("mergedimage.png"))[..., :3].astype(int)).max() <= 2

    def test_without_a_bleed_there_is_no_such_layer(self) -> None:
        archive = zipfile.ZipFile(io.BytesIO(FORMS["ora"][1](only(panel_facts(SQUARE), 64), WHITE)))
        assert b"bleed" not in archive.read("stack.xml")

    def test_svg_strokes_the_same_segments(self) -> None:
        layers = only(panel_facts(Panel(0.25, 0.25, 0.75, 0.75, cells=2)), 64)
        root = ElementTree.fromstring(FORMS["svg"][1](layers, (1, 2, 3)))
        space = {"s": "http://www.w3.org/2000/svg"}
        (inner,) = root.findall("s:g[@id='inner-edges']/s:path", space)
        assert inner.attrib["d"] in ("M32 48L32 16", "M32 16L32 48")
        (ground,) = root.findall("s:rect", space)
        assert ground.attrib["fill"] == "#010203"
        fills = root.findall("s:g[@id='islands']/s:path", space)
        assert [path.attrib["stroke"] for path in fills] == ["none"]
        assert fills[0].attrib["d"].count("M") == 4  # two quads of two triangles
        assert fills[0].attrib["fill"] not in ("#010203", "#000000")
        assert len(root.findall("s:g[@id='markers']/s:path", space)) == 1
        assert [text.text for text in root.iter("{http://www.w3.org/2000/svg}text")] == ["1"]
        assert not re.search(r"nan|inf(?!o)", FORMS["svg"][1](layers, WHITE).decode().replace("inner", ""))

    def test_stacked_islands_that_run_opposite_ways_are_filled_in_svg(self) -> None:
        # Six islands have the tints in turn, so the first and the last have one; mirrored, they run opposite ways.
        stack = [Panel(0.1, 0.1, 0.5, 0.5, mirrored=k == 5) for k in range(6)]
        layers = only(panel_facts(*stack), 64)
        root = ElementTree.fromstring(FORMS["svg"][1](layers, WHITE))
        first = root.find(".//{http://www.w3.org/2000/svg}g[@id='islands']/{http://www.w3.org/2000/svg}path")
        assert first is not None
        ways = set()
        for triangle in first.attrib["d"].split("Z")[:-1]:
            (ax, ay), (bx, by), (cx, cy) = np.array(re.findall(r"-?[\d.]+", triangle), float).reshape(3, 2)
            ways.add((bx - ax) * (cy - ay) > (cx - ax) * (by - ay))
        assert len(first.attrib["d"].split("Z")) == 5 and len(ways) == 1

    def test_svg_tells_what_a_dashed_outline_is(self) -> None:
        root = ElementTree.fromstring(FORMS["svg"][1](only(panel_facts(SQUARE), 64), WHITE))
        (title,) = root.findall("s:g[@id='outlines']/s:title", {"s": "http://www.w3.org/2000/svg"})
        assert title.text == "outlines of islands, dashed where the surface ends"

    @pytest.mark.parametrize(("ground", "ink"), [((16, 16, 16), PAPER), ((216, 216, 212), INK)])
    def test_lines_markers_and_numbers_stand_out_on_dark_and_on_light_ground(self, ground: Color, ink: Color) -> None:
        layers = only(panel_facts(Panel(0.1, 0.1, 0.9, 0.9, cells=2)), 512, line=3.0)
        line, sign = layers.wire == 255, (layers.signs == 255) & (layers.wire == 0)
        assert line.any() and sign.any()
        for form in ("flat", "tga"):
            drawn = pixels(FORMS[form][1](layers, ground))
            assert (drawn[line & (layers.halo == 0)] == ink).all() and (drawn[sign] == ink).all()
        assert (pixels(FORMS["png"][1](layers, ground))[line][:, :3] == ink).all()
        archive = zipfile.ZipFile(io.BytesIO(FORMS["ora"][1](layers, ground)))
        wire, signs = (pixels(archive.read(f"data/layer{number}.png")) for number in (2, 3))
        assert (wire[line] == [*ink, 255]).all() and (signs[sign] == [*ink, 255]).all()
        root = ElementTree.fromstring(FORMS["svg"][1](layers, ground))
        color = "#{:02x}{:02x}{:02x}".format(*ink)
        groups = {group.attrib["id"]: group.attrib for group in root.iter("{http://www.w3.org/2000/svg}g")}
        assert {groups[name]["stroke"] for name in ("inner-edges", "outlines", "markers")} == {color}
        assert groups["numbers"]["fill"] == color

    def test_ink_turns_light_where_that_has_more_contrast(self) -> None:
        # Relative luminance of the dark ink is 0.0091; both inks have one contrast at sqrt(1.05 x 0.0591) - 0.05 = 0.199,
        # a grey of 123.3 by the sRGB curve.
        assert ink_on((123, 123, 123)) == PAPER and ink_on((124, 124, 124)) == INK

    @pytest.mark.parametrize("form", list(FORMS))
    def test_the_same_bytes_again(self, form: str) -> None:
        first, again = (
            FORMS[form][1](only(panel_facts(SQUARE, Panel(0.1, 0.6, 0.3, 0.9)), 64, bleed=3), WHITE) for _ in range(2)
        )
        assert first == again


class TestSigns:
    def test_markers_and_numbers_stand_clear_of_the_wire(self) -> None:
        # Sixteen quads in a row: an inner edge runs down the middle of the island, where marker and number stand.
        layers = only(panel_facts(Panel(0.1, 0.1, 0.9, 0.9, cells=16)), 2048, line=2.0)
        halo = (layers.halo == 255) & (layers.signs == 0) & (layers.wire > 200)
        assert halo.any()
        flat = pixels(FORMS["flat"][1](layers, (200, 210, 220))).astype(int)
        # 220 of 255 parts of the ground over black lines
        assert np.abs(flat[halo] - np.array([200, 210, 220]) * 220 // 255).max() <= 40
        assert (flat[(layers.wire == 255) & (layers.halo == 0)] < 70).all()
        root = ElementTree.fromstring(FORMS["svg"][1](layers, WHITE))
        ids = [group.attrib["id"] for group in root.iter("{http://www.w3.org/2000/svg}g")]
        assert ids == ["islands", "inner-edges", "outlines", "halos", "markers", "numbers"]

    def test_numbers_are_those_of_the_report_and_lie_in_their_island(self) -> None:
        layers = only(panel_facts(Panel(0.1, 0.1, 0.4, 0.4), Panel(0.5, 0.5, 0.9, 0.9)), 512)
        assert [number.text for number in layers.numbers] == ["1", "2"]
        for number, (x0, y0, x1, y1) in zip(layers.numbers, [(51, 307, 205, 461), (256, 51, 461, 256)], strict=True):
            assert x0 < number.x < x1 and y0 < number.y < y1

    def test_in_a_low_island_number_and_marker_stand_side_by_side(self) -> None:
        # 24 texels high and 256 wide: one above the other each had 12, less than the type of 14 needs.
        low = only(panel_facts(Panel(0.25, 0.25, 0.75, 0.25 + 24 / 512)), 512)
        (number,) = low.numbers
        assert number.size >= 13  # nearly the whole type
        across = low.marker_segments[0::2]
        assert across.max() < number.x - number.size / 2
        down = low.marker_segments[1::2]
        assert abs(number.y - (down.min() + down.max()) / 2) < 1
        # As high as wide, they stand one above the other.
        high = only(panel_facts(Panel(0.25, 0.25, 0.75, 0.75)), 512)
        assert high.numbers[0].y > high.marker_segments[1::2].max() and high.numbers[0].x == high.inner.x[0]

    def test_an_island_too_small_for_a_number_is_counted(self) -> None:
        layers = only(panel_facts(Panel(0.1, 0.1, 0.11, 0.11), Panel(0.5, 0.5, 0.9, 0.9)), 256)
        assert layers.unnumbered == 1

    def test_the_arrow_points_up_in_an_upright_island_and_down_in_one_upside_down(self) -> None:
        upright = only(panel_facts(Panel(0.1, 0.1, 0.9, 0.9)), 256).marker_segments
        assert upright[3, 0] < upright[1, 0] and upright[0, 0] == pytest.approx(upright[2, 0])
        turned = only(panel_facts(Panel(0.9, 0.9, 0.1, 0.1, metres=(0.8, 0.8))), 256).marker_segments
        assert turned[3, 0] > turned[1, 0]

    def test_a_mirrored_island_has_more_than_an_arrow(self) -> None:
        plain = only(panel_facts(Panel(0.1, 0.1, 0.9, 0.9)), 256).marker_segments
        mirrored = only(panel_facts(Panel(0.1, 0.1, 0.9, 0.9, mirrored=True)), 256).marker_segments
        assert plain.shape[1] == 3 and mirrored.shape[1] == 3 + 4
