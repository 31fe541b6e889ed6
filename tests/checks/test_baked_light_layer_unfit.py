"""The UV layer for baked light: there, unique, inside, with room."""

from __future__ import annotations

from typing import Any

import pytest

from tests.support.laid_props import Sheet, apart, collapsed, laid_part, painted, second_layer, sheet
from tests.support.mesh_props import findings

CHECK = "baked-light-layer-unfit"
STACK = [sheet(100, 100, 200, 200), sheet(100, 100, 200, 200)]  # as painted: fine for paint, not for light


def lit(*light: Sheet, **limits: Any) -> list[Any]:
    """Findings on two stacked boards whose layer 1 is laid out like `light` (texels of 1024; measured at 2048)."""
    return findings(CHECK, painted(second_layer(laid_part(*STACK), apart(*light).uv)), **limits)


GOOD = (sheet(100, 100, 400, 400), sheet(500, 100, 800, 400))


def test_a_layer_of_its_own_with_room_passes() -> None:
    assert lit(*GOOD) == []


def test_a_layer_that_is_not_there() -> None:
    (found,) = findings(CHECK, painted(laid_part(*STACK)))
    assert (found.measured, found.wanted) == (1, 2)
    assert findings(CHECK, painted(laid_part(*STACK)), required=False) == []
    assert len(lit(*GOOD, layer=2)) == 1
    # The layer named is the one judged: paint's own layer has a stack.
    (found,) = lit(*GOOD, layer=0)
    assert "2 islands share 10,000 texels" in found.message


def test_stacks_share_light() -> None:
    (found,) = lit(sheet(100, 100, 200, 200), sheet(100, 100, 200, 200))
    assert found.measured == 200 * 200 and found.place.islands == (3, 4)  # at 2048 assumed
    assert lit(sheet(100, 100, 200, 200), sheet(100, 100, 200, 200), allowed_texels=40_000) == []
    assert len(lit(sheet(100, 100, 200, 200), sheet(100, 100, 200, 200), allowed_texels=39_999)) == 1


def test_outside_and_without_area() -> None:
    (found,) = lit(GOOD[0], sheet(1100, 500, 1300, 800))
    assert "1 island outside the tile" in found.message
    (found,) = lit(GOOD[0], collapsed(GOOD[1]))
    assert "1 island without room for light" in found.message


@pytest.mark.parametrize(("gap", "told"), [(7.99, True), (8.0, False)])
def test_both_sides_of_the_room_at_the_size_of_the_light_map(gap: float, told: bool) -> None:
    # 8 texels of 1024 are 4 of 512
    found = lit(sheet(100, 100, 400, 400), sheet(400 + gap, 100, 700, 400), map_px=512, between_texels=4)
    assert bool(found) is told
    if told:
        assert found[0].measured == pytest.approx(gap / 2, abs=1e-5)
    wider = lit(sheet(100, 100, 400, 400), sheet(400 + gap, 100, 700, 400), map_px=1024, between_texels=4)
    assert wider == []


@pytest.mark.parametrize(("gap", "told"), [(3.99, True), (4.0, False)])
def test_both_sides_of_the_room_to_the_border(gap: float, told: bool) -> None:
    found = lit(sheet(gap, 100, 400, 400), GOOD[1], map_px=512, border_texels=2)
    assert bool(found) is told


def test_the_layer_is_judged_by_no_rule_for_paint() -> None:
    from tests.support.mesh_props import findings as told

    light = (sheet(100, 100, 200, 200, turn=45, mirrored=True), sheet(150, 100, 260, 180, mirrored=True))
    thing = painted(second_layer(laid_part(*STACK), apart(*light).uv))
    for check, limits in (
        ("mirrored-islands", {}),
        ("tilted-islands", {}),
        ("overlapping-islands", {"allow_stacks": True}),
        ("texel-density-out-of-range", {"wanted": 512}),
    ):
        assert told(check, thing, **limits) == []
