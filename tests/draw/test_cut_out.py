"""Cut-outs of maps: the texels themselves, the frame, and how many there are."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from tests.support.clean_prop import net_locker
from tests.support.painted_props import header_of
from tidegate import Terms, examine, list_drop, read_names
from tidegate.draw.cut_out import LARGEST, LEAST, MOST, cut_outs
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.letters import lettered
from tidegate.model.prop import Prop, TextureMap
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
    assert '<figure class="texels">' in html_report(record, verdict.pictures)
    (again,) = examine(list_drop(drop, scheme), terms)
    assert again.pictures == verdict.pictures
    (without,) = examine(list_drop(drop, scheme), Terms(scheme=scheme, rule_set="furniture", forced_set=True))
    assert without.pictures == () and report_record(without)["findings"][0]["cut_out"] is None
