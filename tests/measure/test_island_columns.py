"""Island columns: worked values, canonical order, and another way that agrees."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.support.laid_props import Sheet, collapsed, laid, laid_part, painted, second_layer, sheet
from tests.support.mesh_props import facts_of
from tests.support.plain_islands import PlainPart, islands_of
from tidegate.model.facts import IslandColumns
from tidegate.model.mesh import UvTransform


def columns(*sheets: Sheet, **more: Any) -> IslandColumns:
    found = facts_of(laid(*sheets, **more), "upright").islands
    assert found is not None
    return found


def test_a_sheet_worked_out_by_hand() -> None:
    # 100 x 50 texels of 1024 at 512 px/m: 0.1953125 m x 0.09765625 m.
    one = columns(sheet(100, 200, 200, 250))
    assert len(one) == 1
    assert one.triangles.tolist() == [2] and one.winding.tolist() == [1] and one.tile.tolist() == [1001]
    assert one.uv_area[0] == pytest.approx(5000 / 1024**2, rel=1e-8)
    assert one.world_area[0] == pytest.approx(0.1953125 * 0.09765625, rel=1e-8)
    np.testing.assert_allclose(one.bounds[0], np.array([100, 200, 200, 250]) / 1024)
    np.testing.assert_allclose(one.centre[0], [0.09765625, 0.048828125, 0.0], atol=1e-12)
    assert one.density[0] == 512.0
    assert (one.stretch_ratio[0], one.stretch_l2[0], one.stretch_worst[0]) == (1.0, 1.0, 1.0)
    assert one.up_degrees[0] == 90.0 and one.up_certainty[0] == 1.0


def test_rows_go_from_left_to_right_whatever_the_order_of_triangles() -> None:
    a, b, c = sheet(10, 10, 20, 20), sheet(500, 10, 520, 20), sheet(300, 10, 330, 20)
    np.testing.assert_allclose(columns(b, c, a).bounds[:, 0] * 1024, [10, 300, 500])
    facts = facts_of(laid(b, c, a), "islands")
    assert facts.parts[0].island_of[0].tolist() == [2, 2, 1, 1, 0, 0]


def test_mirrored_flat_and_folded_are_counted() -> None:
    folded = sheet(300, 100, 500, 200, cells=(2, 1))
    folded.uv[2, 0] = folded.uv[1, 0] - 0.01  # one triangle turned round
    found = columns(sheet(100, 100, 200, 200, mirrored=True), folded, collapsed(sheet(600, 100, 700, 200)))
    assert found.winding.tolist() == [-1, 1, 0]
    assert found.folded.tolist() == [0, 1, 0]
    assert found.flat.tolist() == [0, 0, 2]
    assert np.isnan(found.density).tolist() == [False, False, True]


@pytest.mark.parametrize("turn", [0.0, 30.0, 90.0, 200.0])
def test_up_turns_with_the_island(turn: float) -> None:
    found = columns(sheet(400, 400, 500, 500, turn=turn))
    assert found.up_degrees[0] == pytest.approx(180 - (90 - turn) % 360, abs=1e-6)


def test_a_map_that_is_not_square_stretches_what_its_uvs_do_not() -> None:
    # A square metre over the whole tile of 2048 x 1024: 2048 and 1024 px/m, their mean 1448.1547, their ratio 2.
    found = columns(sheet(0, 0, 1024, 1024, metres=(1.0, 1.0)), size=(2048, 1024))
    assert found.density[0] == pytest.approx(1448.1547, abs=1e-3)
    assert found.stretch_ratio[0] == pytest.approx(2.0, rel=1e-8)


def test_without_a_map_the_size_of_the_rule_set_is_taken() -> None:
    bare = replace(laid(sheet(0, 0, 512, 512)), maps=(), bindings=())
    found = facts_of(bare, "islands").islands
    assert found is not None and found.density[0] == 1024.0  # 2048 assumed, laid out for 512 px/m of 1024


def test_collision_has_no_islands_and_layers_have_their_own() -> None:
    board = laid_part(sheet(100, 100, 200, 200))
    both = second_layer(board, board.uv_layers[0].uv * 2)
    wall = laid_part(sheet(100, 100, 200, 200), role="collision", mesh="wall")
    facts = facts_of(painted(both, wall), "islands")
    assert facts.islands is not None
    assert facts.islands.uv_layer.tolist() == [0, 1] and facts.islands.part.tolist() == [0, 0]
    np.testing.assert_allclose(facts.islands.uv_area[1], 4 * facts.islands.uv_area[0])


def test_a_placing_of_the_material_is_applied_first() -> None:
    from tidegate.model.mesh import MapSlot

    thing = laid(sheet(0, 0, 512, 512, metres=(1.0, 1.0)))
    twice = MapSlot("base_color", "rgb", "s", 0, transform=UvTransform(((2.0, 0.0, 0.25), (0.0, 2.0, 0.0))))
    mesh = replace(thing.meshes[0], materials=(replace(thing.meshes[0].materials[0], slots=(twice,)),))
    found = facts_of(replace(thing, meshes=(mesh,)), "islands").islands
    assert found is not None
    np.testing.assert_allclose(found.bounds[0], [0.25, 0.0, 1.25, 1.0])
    assert found.density[0] == 1024.0 and not found.inside[0]


def test_the_plain_way_agrees() -> None:
    sheets = [sheet(10 + 90 * k, 10, 90 + 90 * k, 90 + 40 * k, cells=(k + 1, 2), turn=13.0 * k) for k in range(5)]
    part = laid_part(*sheets)
    plain = PlainPart("hull", "hull", "oak", size={0: (1024, 1024)})
    uv = part.uv_layers[0].uv
    plain.corners = [tuple(tuple(part.positions[i].tolist()) for i in row) for row in part.triangles]
    plain.uvs[0] = [tuple(tuple(uv[i].tolist()) for i in row) for row in part.triangles]
    here = sorted((i.triangles, i.uv_area, i.world_area, i.density) for i in islands_of(plain, 0))
    found = facts_of(painted(part), "islands").islands
    assert found is not None
    there = sorted(zip(found.triangles, found.uv_area, found.world_area, found.density, strict=True))
    np.testing.assert_allclose(np.array(there, float), np.array(here, float), rtol=1e-7)
