"""Cut-outs of maps: the texels themselves, the frame, and how many there are."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from tests.draw.laid_out import Panel, panel_facts
from tests.support.clean_prop import net_locker
from tests.support.painted_props import header_of
from tidegate import Terms, examine, list_drop, read_names
from tidegate.draw.cut_out import MOST, cut_outs
from tidegate.draw.map_panels import COMPARED, LARGEST, LEAST, NEAR, WHOLE
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place, Shown
from tidegate.model.letters import lettered
from tidegate.model.prop import Master, Prop, TextureMap
from tidegate.report.html_report import html_report
from tidegate.report.record import report_record

EDGE, HEAD = 12, 12 + 12 + 2 * 18  # paper at the left; and above the texels: room, two lines of 18 pixels, room


def noise(height: int, width: int, channels: int = 3, kind: type = np.uint8) -> np.ndarray:
    return np.random.default_rng(4).integers(0, np.iinfo(kind).max + 1, (height, width, channels), kind)


def drawn(image: np.ndarray, *boxes: tuple[int, int, int, int]) -> tuple[list[tuple[str, np.ndarray]], list[str]]:
    """Cut-outs by letter, and which maps were read."""
    facts = Facts(prop=Prop("crate", maps=(TextureMap("a.png", "a.png", header_of(image)),)), measured=frozenset())
    found = lettered(Finding("seam-visible", "note", "x", Place(map="a.png", pixel_box=box)) for box in boxes)
    asked: list[str] = []

    def read(texture: TextureMap) -> np.ndarray:
        asked.append(texture.path)
        return image

    made = cut_outs(facts, found, read)
    return [(letter, np.asarray(Image.open(io.BytesIO(data)))) for letter, data in made], asked


def test_a_place_is_shown_texel_for_pixel_when_it_is_large() -> None:
    """300 x 200 texels with 16 around them are more than half of 384, so they are not enlarged."""
    image = noise(600, 800)
    ((letter, picture),), _ = drawn(image, (100, 200, 400, 400))
    assert letter == "A"
    inner = picture[HEAD + 16 : HEAD + 216, EDGE + 16 : EDGE + 316]
    assert np.array_equal(inner, image[200:400, 100:400])
    assert np.array_equal(picture[HEAD : HEAD + 10, EDGE : EDGE + 332], image[184:194, 84:416])


def test_a_small_place_is_enlarged_by_a_whole_number() -> None:
    """96 texels are shown at least, and 384 pixels are four times that."""
    image = noise(400, 400)
    ((_, picture),), _ = drawn(image, (200, 200, 204, 203))
    left, top = (200 + 204 - LEAST) // 2, (200 + 203 - LEAST) // 2
    x, y = EDGE + (200 - left) * 4, HEAD + (200 - top) * 4
    inner = picture[y : y + 12, x : x + 16]
    assert np.array_equal(inner, image[200:203, 200:204].repeat(4, axis=0).repeat(4, axis=1))
    # the frame lies outside: paper, two of color, paper, ink
    across = picture[y + 5, x - 5 : x]
    assert across[0].tolist() == [24, 24, 22] and across[1].tolist() == [255, 255, 255] == across[4].tolist()
    assert across[2].tolist() == across[3].tolist() == [213, 94, 0]


def test_of_a_place_larger_than_the_cut_out_the_middle_is_shown() -> None:
    image = noise(2000, 2000)
    ((_, picture),), _ = drawn(image, (0, 0, 2000, 2000))
    middle = slice(1000 - LARGEST // 2 + 20, 1000 + LARGEST // 2 - 20)
    assert np.array_equal(
        picture[HEAD + 20 : HEAD + LARGEST - 20, EDGE + 20 : EDGE + LARGEST - 20], image[middle, middle]
    )
    assert max(picture.shape) < LARGEST + 120


@pytest.mark.parametrize(
    ("channels", "kind"), [(1, np.uint8), (2, np.uint8), (4, np.uint8), (1, np.uint16), (3, np.uint16)]
)
def test_every_kind_of_map(channels: int, kind: type) -> None:
    image = noise(300, 300, channels, kind)
    ((_, picture),), _ = drawn(image, (20, 20, 280, 280))
    codes = image[20:280, 20:280, : 3 if channels >= 3 else 1]
    codes = codes if kind is np.uint8 else np.rint(codes / 257).astype(np.uint8)
    assert np.array_equal(
        picture[HEAD + 16 : HEAD + 276, EDGE + 16 : EDGE + 276], np.broadcast_to(codes, (260, 260, 3))
    )


def test_maps_as_small_as_a_texel_and_places_beyond_the_map() -> None:
    ((_, picture),), _ = drawn(np.full((1, 1, 3), 77, np.uint8), (0, 0, 1, 1))
    assert picture[HEAD + 4, EDGE + 4].tolist() == [77, 77, 77]
    assert drawn(noise(50, 50), (60, 60, 80, 80))[0] == []
    assert len(drawn(noise(50, 50), (40, 40, 80, 80))[0]) == 1


def test_only_so_many_and_each_map_read_once() -> None:
    found, asked = drawn(noise(200, 200), *((n, n, n + 3, n + 3) for n in range(MOST + 3)))
    assert [letter for letter, _ in found] == list("ABCDEFGHIJKL")
    assert asked == ["a.png"]


def test_a_map_that_cannot_be_read_has_none() -> None:
    facts = Facts(prop=Prop("crate", maps=(TextureMap("a.png", "", header_of(noise(9, 9))),)), measured=frozenset())
    places = (Place(map="a.png", pixel_box=(0, 0, 1, 1)), Place(map="a.png"), Place(pixel_box=(0, 0, 1, 1)))
    assert cut_outs(facts, [Finding("x", "note", "x", place) for place in places], lambda texture: None) == []


GROUND, PAINT, LINE, INK = (70, 70, 74), (150, 110, 70), (20, 18, 20), (24, 24, 22)
HEAD_OF_TWO = HEAD + 18  # a line more above each of two panels, and above one that tells of the outlines on it


def on_a_layout(image: np.ndarray, shown: Shown, place: Place | None = None) -> np.ndarray:
    """The cut-out of a finding on the one island at 0.25..0.75 of a map."""
    facts = panel_facts(Panel(0.25, 0.25, 0.75, 0.75), size=(image.shape[1], image.shape[0]))
    place = place or Place(map="fish_crate_base_color.png", islands=(1,))
    ((_, data),) = cut_outs(facts, [Finding("x", "error", "x", place, shown=shown)], lambda texture: image)
    return np.asarray(Image.open(io.BytesIO(data)))


def painted(side: int, bleed: int) -> np.ndarray:
    """Ground, with paint on the island and some texels past it."""
    image = np.full((side, side, 3), GROUND, np.uint8)
    inside = slice(side // 4 - bleed, 3 * side // 4 + bleed)
    image[inside, inside] = PAINT
    return image


def test_about_one_texel_eight_times_enlarged_with_the_edge_of_its_island() -> None:
    # The island ends at x 64 of 256; paint goes on for 3 texels, so the texel 60, 128 is the nearest bare one. 48 texels
    # about it begin at 36, 104.
    box = (50, 64, 61, 192)
    place = Place(map="fish_crate_base_color.png", islands=(1,), pixel_box=box)
    picture = on_a_layout(painted(256, 3), Shown(texel=(60, 128)), place)
    panel = picture[HEAD_OF_TWO : HEAD_OF_TWO + 8 * NEAR, EDGE : EDGE + 8 * NEAR]
    row = panel[5]
    assert row[(60 - 36) * 8 + 7].tolist() == list(GROUND) and row[(61 - 36) * 8].tolist() == list(PAINT)
    assert row[(64 - 36) * 8].tolist() == list(INK) and row[(64 - 36) * 8 - 3].tolist() != list(PAINT)
    # The frame keeps 4 texels from the texel on all sides and lies outside of them: 56..65 by 124..133.
    x0, x1, y = (56 - 36) * 8, (65 - 36) * 8, (128 - 104) * 8 + 4
    assert panel[y, x0 - 3].tolist() == panel[y, x1 + 2].tolist() == [213, 94, 0]
    assert panel[y, (60 - 36) * 8 : (61 - 36) * 8].tolist() == [list(GROUND)] * 8


def test_a_texel_at_the_corner_of_the_map_and_one_beyond_it() -> None:
    for texel in ((0, 0), (255, 255), (256, 0)):
        place = Place(map="fish_crate_base_color.png", islands=(1,), pixel_box=(0, 0, 256, 256))
        picture = on_a_layout(painted(256, 3), Shown(texel=texel), place)
        assert picture.shape[0] == (HEAD + 256 if texel == (256, 0) else HEAD_OF_TWO + 8 * NEAR) + EDGE


def test_a_place_of_a_finding_on_islands_shows_their_outlines() -> None:
    # The island ends at x 256 of 1024, and what is framed lies in it: 96 texels about 300, 300 begin at 252 and are drawn
    # four times as large, so the edge is 16 pixels from the left.
    place = Place(map="fish_crate_base_color.png", islands=(1,), pixel_box=(298, 298, 302, 302))
    row = on_a_layout(painted(1024, 200), Shown(), place)[HEAD_OF_TWO + 100, EDGE : EDGE + 4 * LEAST]
    assert row[16].tolist() == list(INK) and row[100].tolist() == list(PAINT)
    plain = on_a_layout(painted(1024, 200), Shown(), Place(map=place.map, pixel_box=place.pixel_box))
    assert plain[HEAD + 100, EDGE + 16].tolist() == list(PAINT)
    # Of a larger place a texel is a pixel, and a line would hide the texels at the edge that it is about.
    large = on_a_layout(painted(1024, 200), Shown(), replace(place, pixel_box=(246, 246, 546, 546)))
    assert (large[HEAD + 20 : HEAD + 280, EDGE + 20 : EDGE + 280] == PAINT).all()


def test_words_above_a_cut_out_are_wrapped_and_not_cut() -> None:
    long = "the_lamp_post_at_the_end_of_the_long_promenade_behind_the_fish_market_base_color.png"
    image = noise(400, 400)
    facts = Facts(prop=Prop("crate", maps=(TextureMap(long, long, header_of(image)),)), measured=frozenset())
    found = lettered([Finding("seam-visible", "note", "x", Place(map=long, pixel_box=(10, 10, 12, 12)))])
    ((_, data),) = cut_outs(facts, found, lambda texture: image)
    wide, high = Image.open(io.BytesIO(data)).size
    assert wide == 400 + 2 * EDGE  # a small map makes no sheet that is wide because of its name
    assert high == HEAD + 18 + 4 * LEAST + EDGE  # the name takes two lines


@pytest.mark.parametrize("side", [128, 1280])
def test_a_whole_map_with_the_outlines_of_the_layout(side: int) -> None:
    # 128 texels are enlarged 5 times, 1280 made half as large: 640 pixels, the island at 160..480.
    panel = on_a_layout(painted(side, 0), Shown(over="outlines"))[HEAD : HEAD + WHOLE, EDGE : EDGE + WHOLE]
    color = np.array([213, 94, 0])
    on_edge, inside, outside = panel[200, 160].astype(int), panel[200, 300], panel[100, 100]
    assert inside.tolist() == list(PAINT) and outside.tolist() == list(GROUND)
    assert np.abs(panel[200, 158:163].astype(int) - color).sum(axis=1).min() < np.abs(inside.astype(int) - color).sum()
    assert on_edge.tolist() != list(PAINT) and panel[200, 157:163].max() == 255


def test_lines_of_a_guide_are_shown_bare_where_they_stand_out_most() -> None:
    # Of the island's four borders only the lower one, at y 384 of 512, has a line in the paint.
    image = painted(512, 4)
    image[384, 128:384] = LINE
    picture = on_a_layout(image, Shown(over="wire"))
    panels = picture[HEAD_OF_TWO : HEAD_OF_TWO + 384]
    dark = (panels == LINE).all(axis=2)
    rows = np.flatnonzero(dark.sum(axis=1) >= 384)
    assert len(rows) == 4  # one texel, 4 times enlarged
    assert rows[0] == LEAST // 2 * 4  # in the middle


def compared(image: np.ndarray, merged: np.ndarray | None, box: tuple[int, int, int, int] | None) -> np.ndarray:
    """The cut-out of a map beside its master."""
    header = header_of(image)
    prop = Prop("crate", maps=(TextureMap("a.png", "", header),), masters=(Master("a.ora", "", header, "a.png"),))
    finding = Finding("x", "error", "x", Place(map="a.png", pixel_box=box), shown=Shown(master="a.ora"))

    def read(picture: TextureMap | Master) -> np.ndarray | None:
        return merged if isinstance(picture, Master) else image

    ((_, data),) = cut_outs(Facts(prop=prop, measured=frozenset()), [finding], read)
    return np.asarray(Image.open(io.BytesIO(data)))


@pytest.mark.parametrize("times", [1, 2])
def test_a_map_beside_the_same_place_of_its_master(times: int) -> None:
    image = noise(300, 300)
    merged = image.copy()
    merged[100:160, 100:180] = (200, 40, 40)
    picture = compared(image, merged.repeat(times, axis=0).repeat(times, axis=1), (100, 100, 180, 160))
    # 80 x 60 texels with 16 around them are 112 x 96 from 84, 82, three times enlarged.
    y, x = HEAD_OF_TWO + (110 - 82) * 3, EDGE + (110 - 84) * 3
    wide = 112 * 3
    assert np.array_equal(picture[y : y + 90, x : x + 90], image[110:140, 110:140].repeat(3, 0).repeat(3, 1))
    second = int(np.flatnonzero((picture[y] == (200, 40, 40)).all(axis=1))[0]) - 16 * 3
    assert second >= EDGE + wide
    assert (picture[y : y + 90, second + 48 : second + 48 + 200] == (200, 40, 40)).all()
    assert np.array_equal(picture[y : y + 9, second : second + 30], merged[110:113, 84:94].repeat(3, 0).repeat(3, 1))


@pytest.mark.parametrize("box", [(0, 0, 1024, 1024), None])
def test_of_a_large_difference_the_worst_place_is_shown(box: tuple[int, int, int, int] | None) -> None:
    image = np.full((1024, 1024, 3), PAINT, np.uint8)
    merged = image + np.uint8(1)  # a little everywhere, much at one place
    merged[700:720, 240:300] = (250, 250, 250)
    picture = compared(image, merged, box)
    bright = (picture[HEAD_OF_TWO:] == 250).all(axis=2)
    assert bright.sum() == 20 * 60 * (384 // COMPARED) ** 2  # all of it, and only in the master's panel
    assert np.flatnonzero(bright.any(axis=0))[0] > EDGE + 384


def test_a_master_that_cannot_be_read_leaves_the_map_alone() -> None:
    picture = compared(noise(300, 300), None, (100, 100, 180, 160))
    assert picture.shape[0] == HEAD + 96 * 3 + EDGE


def test_a_guide_in_a_master_without_a_map_shows_the_master() -> None:
    merged = noise(200, 200)
    prop = Prop("crate", masters=(Master("a.ora", "", header_of(merged), ""),))
    finding = Finding("x", "error", "x", Place(map="a.ora"), shown=Shown(master="a.ora"))
    ((_, data),) = cut_outs(Facts(prop=prop, measured=frozenset()), [finding], lambda picture: merged)
    picture = np.asarray(Image.open(io.BytesIO(data)))
    assert np.array_equal(picture[HEAD + 10 : HEAD + 190, EDGE + 10 : EDGE + 190], merged[10:190, 10:190])


def test_report_and_page_name_it(tmp_path: Path) -> None:
    drop = net_locker(tmp_path)
    master = drop / "net_locker_base_color.tif"
    with Image.open(master) as opened:
        image = opened.convert("RGB")
    ImageDraw.Draw(image).rectangle((100, 100, 200, 200), fill=(10, 200, 10))
    image.save(master, save_all=True, append_images=[image])
    scheme = read_names()
    terms = Terms(scheme=scheme, rule_set="furniture", forced_set=True, pictures=("fault_sheet", "cut_out"))
    (verdict,) = examine(list_drop(drop, scheme), terms)
    record = report_record(verdict)
    (finding,) = (one for one in record["findings"] if one["check"] == "map-unlike-master")
    assert finding["cut_out"] == f"net_locker.tidegate.cut_out.{finding['letter']}.png"
    assert finding["cut_out"] in record["pictures"]
    assert all(one["cut_out"] is None for one in record["findings"] if "pixel_box" not in one["place"])
    assert '<figure class="texels' in html_report(record, verdict.pictures)
    (again,) = examine(list_drop(drop, scheme), terms)
    assert again.pictures == verdict.pictures
    (without,) = examine(list_drop(drop, scheme), Terms(scheme=scheme, rule_set="furniture", forced_set=True))
    assert without.pictures == () and report_record(without)["findings"][0]["cut_out"] is None
