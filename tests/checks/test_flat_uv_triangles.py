"""Faces without UV area: a fault, a palette, or a plain color."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.support.laid_props import Sheet, collapsed, laid, sheet
from tests.support.mesh_props import findings

CHECK = "flat-uv-triangles"
# 400 x 400 texels, so 0.78125 m squared; its share against a collapsed sheet of a quarter of the side is 16 to 1.
BOARD = sheet(100, 100, 500, 500)
CAP = collapsed(sheet(600, 600, 700, 700))


def test_a_layout_with_area_everywhere() -> None:
    assert findings(CHECK, laid(BOARD)) == []


@pytest.mark.parametrize(("share", "told"), [(0.0588, True), (0.0589, False)])
def test_both_sides_of_the_share(share: float, told: bool) -> None:
    found = findings(CHECK, laid(BOARD, CAP), share=share)  # 1 / 17 = 0.058824
    assert bool(found) is told
    if told:
        assert (found[0].measured, found[0].level, found[0].place.islands) == (0.058824, "", (2,))
        assert found[0].place.uv_box == (round(600 / 1024, 6),) * 4
        assert "2 triangles without UV area" in found[0].message and "5.88 % of the surface" in found[0].message


@pytest.mark.parametrize(("mild", "level"), [(0.0589, "warning"), (0.0588, "")])
def test_up_to_a_share_it_is_no_more_than_a_warning(mild: float, level: str) -> None:
    (one,) = findings(CHECK, laid(BOARD, CAP), mild_share=mild)  # 1 / 17 = 0.058824
    assert one.level == level


def test_points_beside_a_normal_map_may_be_a_palette_and_one_point_is_a_lost_layout() -> None:
    both = ("base_color", "normal")
    far = collapsed(BOARD)
    (several,) = findings(CHECK, laid(CAP, far, slots=both))
    assert several.level == "warning" and several.measured == 1.0 and "points of a palette" in several.help
    (one,) = findings(CHECK, laid(CAP, CAP, slots=both))
    assert one.level == "" and one.help.startswith("lay these faces out")
    (some,) = findings(
        CHECK, laid(BOARD, CAP, collapsed(sheet(700, 600, 800, 700)), slots=both)
    )  # 2 / 18 of the surface
    assert some.level == ""


def test_a_line_is_as_flat_as_a_point_and_flat_triangles_in_a_good_island_count() -> None:
    assert len(findings(CHECK, laid(BOARD, collapsed(sheet(600, 600, 700, 700), axis=0)))) == 1
    strip = sheet(100, 100, 900, 500, cells=(8, 1))
    strip.uv[8], strip.uv[17] = strip.uv[7], strip.uv[16]
    (found,) = findings(CHECK, laid(strip))
    assert found.measured == 0.125 and found.place.islands == (1,)


def palette(*sheets: Sheet, **more: object) -> object:
    return laid(*(collapsed(one) for one in sheets), **more)


def test_a_prop_colored_from_points_is_named_once_as_a_note() -> None:
    (found,) = findings(CHECK, palette(BOARD, sheet(600, 600, 700, 700)))
    assert found.level == "note" and "all 2 islands on oak_base_color.png have no UV area" in found.message
    for check in ("texel-density-out-of-range", "tilted-islands", "overlapping-islands", "stretched-islands"):
        assert findings(check, palette(BOARD, BOARD)) == []
    (found,) = findings(CHECK, palette(BOARD), allow_palette=False)
    assert found.level == "" and found.measured == 1.0


def test_strips_of_a_palette_too() -> None:
    strips = [sheet(100, 100 + 30 * k, 104, 120 + 30 * k, metres=(1, 1)) for k in range(5)]
    (found,) = findings(CHECK, laid(*strips, *(collapsed(one) for one in strips[:2])))
    assert found.level == "note" and "lie on points or narrow strips" in found.message


def test_a_normal_map_is_no_palette() -> None:
    (found,) = findings(CHECK, palette(BOARD, slots=("base_color", "normal")))
    assert found.level == ""


@pytest.mark.parametrize(("side", "told"), [(323, "note"), (324, "")])
def test_both_sides_of_how_little_a_palette_takes_up(side: int, told: str) -> None:
    # A tenth of 1024 x 1024 texels is a square of 323.8; a third of the surface is flat.
    board = sheet(100, 100, 100 + side, 100 + side, metres=(1.0, 1.0))
    half = collapsed(sheet(600, 600, 700, 700, metres=(1.0, 0.5)))
    (found,) = findings(CHECK, laid(board, half))
    assert found.level == told


def test_a_prop_without_maps_and_layout_is_a_plain_color() -> None:
    bare = replace(palette(BOARD), maps=(), bindings=())
    (found,) = findings(CHECK, bare)
    assert found.level == "note" and found.measured == 1.0
