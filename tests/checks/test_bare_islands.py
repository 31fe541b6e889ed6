"""Islands that show the ground along their edges: bare places are told, a plain coat is not, and what cannot be told says so."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from tests.support.laid_props import SIZE, sheet
from tests.support.painted_props import paint, pictures_of, told, told_of, wearing
from tidegate.model.finding import Finding
from tidegate.model.mesh import MapSlot, Material

GROUND = 70
# Six islands of 240 x 240 texels in three columns, 80 and 160 apart, numbered up each column.
BOXES = tuple((40 + 320 * x, 100 + 400 * y, 280 + 320 * x, 340 + 400 * y) for x in (0, 1, 2) for y in (0, 1))
SHEETS = tuple(sheet(*box) for box in BOXES)
CLEAN = paint(BOXES, bleed=7, ground=GROUND)


def bare(box: tuple[int, int, int, int], image: np.ndarray, bleed: int = 7) -> None:
    x0, y0, x1, y1 = box
    image[SIZE - y1 - bleed : SIZE - y0 + bleed, x0 - bleed : x1 + bleed] = GROUND


def unpainted(image: np.ndarray, **limits: Any) -> list[Finding]:
    return told_of("unpainted-texels", {"base_color": image}, *SHEETS, **limits)


@pytest.mark.parametrize("amount", [1, 2, 3, 4])
def test_islands_that_are_bare_from_edge_to_edge(amount: int) -> None:
    """A quarter of the islands' texels has to lie on painted islands: of six equal ones two are a third."""
    image = CLEAN.copy()
    for box in BOXES[:amount]:
        bare(box, image)
    (one,) = unpainted(image)
    # One of six edges is less than a quarter of them: nobody means that. More may be parts of the ground's own color.
    assert (one.level, one.certain, one.measured) == ("" if amount == 1 else "warning", True, 1.0)
    assert ("meant to have the color" in one.help) == (amount > 1)
    assert one.place.islands == tuple(range(1, amount + 1))


@pytest.mark.parametrize(("rows", "level"), [(118, "warning"), (122, "")])
def test_bare_parts_outweigh_a_bare_island(rows: int, level: str) -> None:
    """One island of 240 rows shows nothing but the ground, two show it in 118 or 122: 240 to 236, or to 244."""
    image = CLEAN.copy()
    bare(BOXES[0], image)
    for x0, _, x1, y1 in BOXES[1:3]:
        image[SIZE - y1 - 7 : SIZE - y1 + rows, x0 - 7 : x1 + 7] = GROUND
    (one,) = unpainted(image)
    assert (one.level, one.certain, one.place.islands) == (level, True, (1, 2, 3))


def test_too_few_painted_islands_are_details_on_a_coat() -> None:
    image = CLEAN.copy()
    for box in BOXES[:5]:  # one of six is painted
        bare(box, image)
    (one,) = unpainted(image)
    assert (one.level, one.certain) == ("note", False)
    assert one.message.startswith(
        "cannot tell: 83 % of the islands show the color that fills the rest of oak_base_color.png"
    )


@pytest.mark.parametrize(("rows", "certain"), [(58, True), (62, False)])
def test_part_of_every_island(rows: int, certain: bool) -> None:
    """The upper rows of every island are bare: 58 of 240 are .242 of the islands, 62 are .258; a quarter is the limit."""
    image = CLEAN.copy()
    for x0, _, x1, y1 in BOXES:
        image[SIZE - y1 - 7 : SIZE - y1 + rows, x0 - 7 : x1 + 7] = GROUND
    (one,) = unpainted(image)
    assert (one.certain, one.level) == ((True, "") if certain else (False, "note"))
    assert one.measured == pytest.approx(rows / 240, abs=0.01)


@pytest.mark.parametrize(("short", "amount"), [(0, 0), (1, 1)])
def test_paint_one_texel_short(short: int, amount: int) -> None:
    """No edge is painted then; two texels inside it is. A ring of one texel is 956 of 57,600, .0166 of an island."""
    image = np.full_like(CLEAN, GROUND)
    for x0, y0, x1, y1 in BOXES:
        inner = slice(SIZE - y1 + short, SIZE - y0 - short), slice(x0 + short, x1 - short)
        image[inner] = CLEAN[inner]
    found = unpainted(image)
    assert [(one.certain, one.measured) for one in found] == [(True, 0.0166)] * amount
    assert len(told_of("bleed-too-narrow", {"base_color": image}, *SHEETS)) == 1 - amount  # the other check's to tell


def test_paint_carried_over_the_whole_tile_shows_no_ground() -> None:
    """Four islands of one plain color and two others, all carried outwards: beside an edge lies its own paint."""
    image = np.zeros_like(CLEAN)
    y, x = np.mgrid[:SIZE, :SIZE]
    column, row = np.clip(x // 320, 0, 2), (SIZE - 1 - y >= 420).astype(int)
    for number in range(6):
        image[(column == number // 2) & (row == number % 2)] = GROUND if number < 4 else 90 + 10 * number
    assert unpainted(image) == []


@pytest.mark.parametrize(("places", "certain"), [(1, True), (10, False)])
def test_many_places_along_an_edge_may_be_strokes_on_a_coat(places: int, certain: bool) -> None:
    """Of the upper 20 rows of every island 200 columns are bare: in one place, or in ten with paint between them."""
    image, step = CLEAN.copy(), 200 // places
    for x0, _, _, y1 in BOXES:
        for number in range(places):
            left = x0 + 20 + number * (step + 2)
            image[SIZE - y1 - 7 : SIZE - y1 + 20, left : left + step] = GROUND
    (one,) = unpainted(image)
    assert (one.certain, one.place.islands) == (certain, (1, 2, 3, 4, 5, 6))


@pytest.mark.parametrize("slot", ["normal", "roughness"])
def test_in_data_the_ground_may_be_paint(slot: str) -> None:
    """A level island beside others with relief, or one as rough as the ground, is right."""
    image = CLEAN.copy()
    for box in BOXES[:3]:
        bare(box, image)
    image = image if slot == "normal" else np.ascontiguousarray(image[:, :, 0])
    assert told_of("unpainted-texels", {slot: image}, *SHEETS, slots=[slot]) == []


@pytest.mark.parametrize(("share", "amount"), [(0.83, 1), (0.84, 0)])
def test_how_much_is_left_untold(share: float, amount: int) -> None:
    """Five of six islands are .833."""
    image = CLEAN.copy()
    for box in BOXES[:5]:
        bare(box, image)
    assert len(unpainted(image, untold=share)) == amount


def near_the_border(gap: int, wrap: tuple[str, str] = ("repeat", "repeat"), at_top: bool = False) -> list[Finding]:
    box = (300, 1024 - gap - 300, 600, 1024 - gap) if at_top else (gap, 300, 300 + gap, 600)
    boxes = (box, (700, 100, 900, 300))
    image = np.full((SIZE, SIZE, 3), GROUND, np.uint8)
    noise = np.random.default_rng(2).integers(90, 216, image.shape, np.uint8)
    for x0, y0, x1, y1 in boxes:
        part = slice(max(SIZE - y1 - 8, 0), SIZE - y0 + 8), slice(max(x0 - 8, 0), x1 + 8)
        image[part] = noise[part]
    oak = Material("oak", slots=(MapSlot("base_color", "rgb", "map_Kd", -1, wrap=wrap),))
    prop = wearing({"base_color": image}, *(sheet(*one) for one in boxes), material=oak)
    return told("bleed-too-narrow", prop, pictures_of({"base_color": image}), texels=4)


@pytest.mark.parametrize("at_top", [False, True])
@pytest.mark.parametrize(("gap", "amount"), [(0, 1), (3, 1), (4, 0)])
def test_around_the_border_of_a_map_that_is_repeated(gap: int, amount: int, at_top: bool) -> None:
    """Paint goes on for 8 texels, but not at the other end of the map: an island 3 texels from the border has 3."""
    found = near_the_border(gap, at_top=at_top)
    assert [(one.level, one.measured, one.place.islands) for one in found] == [("warning", gap, (1,))] * amount
    if found:
        x0, y0, x1, y1 = found[0].place.pixel_box or (0, 0, 0, 0)
        assert (y0, y1) == (SIZE - 4 + gap, SIZE) if at_top else (x0, x1) == (SIZE - 4 + gap, SIZE)


@pytest.mark.parametrize(
    ("wrap", "amount"), [(("clamp", "repeat"), 0), (("repeat", "clamp"), 1), (("clamp", "clamp"), 0)]
)
def test_a_border_at_which_the_map_ends(wrap: tuple[str, str], amount: int) -> None:
    assert len(near_the_border(0, wrap)) == amount
