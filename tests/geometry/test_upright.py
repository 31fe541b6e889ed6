"""The angle at which the model's up lands in the tile, from w = (J'J)^-1 J' up with J the Jacobian from tile to surface."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.geometry.upright import RULES, STANDING, TOP, UNDERSIDE, Upright, island_upright

CORNERS = np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)])
ROWS = np.array([[0, 1, 2], [0, 2, 3]])


def quad(
    uv: np.ndarray, origin: tuple[float, ...], across: tuple[float, ...], upward: tuple[float, ...]
) -> tuple[np.ndarray, np.ndarray]:
    world = np.array(origin) + CORNERS[:, :1] * np.array(across) + CORNERS[:, 1:] * np.array(upward)
    return uv[ROWS].transpose(1, 2, 0), world[ROWS].transpose(1, 2, 0)


def measure(*quads: tuple[np.ndarray, np.ndarray], **more: float) -> Upright:
    uv = np.concatenate([q[0] for q in quads], axis=2)
    xyz = np.concatenate([q[1] for q in quads], axis=2)
    return island_upright(uv, xyz, np.zeros(uv.shape[2], np.int32), 1, **more)


def turned(degrees: float) -> np.ndarray:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return CORNERS @ np.array([[c, s], [-s, c]])


FRONT = ((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0))


@pytest.mark.parametrize(("turn", "wanted"), [(0, 90), (30, 120), (90, 180), (180, -90), (-90, 0), (-30, 60)])
def test_worked_values_of_a_wall(turn: float, wanted: float) -> None:
    found = measure(quad(turned(turn), *FRONT))
    assert found.degrees[0] == pytest.approx(wanted)
    assert found.certainty[0] == pytest.approx(1.0)
    assert RULES[found.rule[0]] == "standing"


def test_uvs_that_were_never_turned_v_up_stand_on_their_head() -> None:
    # glTF 2.0, 3.8.3 counts V downward; a reader that forgot to turn it gives -90 for an upright map.
    assert measure(quad(CORNERS * [1, -1] + [0, 1], *FRONT)).degrees[0] == pytest.approx(-90.0)


def test_a_mirrored_wall_is_still_upright() -> None:
    found = measure(quad(CORNERS * [-1, 1], *FRONT))
    assert found.degrees[0] == pytest.approx(90.0)
    assert found.certainty[0] == pytest.approx(1.0)


def test_a_map_that_is_not_square_turns_in_texels() -> None:
    # Up along (1, 1) in UV: 45 degrees on a square map; on one twice as wide atan2(1, 2) = 26.565.
    uv = np.array([(0.0, 0.0), (1.0, -1.0), (2.0, 0.0), (1.0, 1.0)])
    assert measure(quad(uv, *FRONT)).degrees[0] == pytest.approx(45.0)
    assert measure(quad(uv, *FRONT), width=2048, height=1024).degrees[0] == pytest.approx(26.565051)


def test_a_table_top_points_away_from_the_front_and_its_underside_towards_it() -> None:
    # Front is +Z. Seen from the front and tipped over, a top shows its far edge (-Z) uppermost: U along +X, V along -Z.
    top = measure(quad(CORNERS, (0, 1, 0), (1, 0, 0), (0, 0, -1)))
    assert (top.degrees[0], RULES[top.rule[0]]) == (pytest.approx(90.0), "top")
    # An underside tipped the other way shows its near edge (+Z) uppermost: U along +X, V along +Z faces down.
    under = measure(quad(CORNERS, (0, 1, 0), (1, 0, 0), (0, 0, 1)))
    assert (under.degrees[0], RULES[under.rule[0]]) == (pytest.approx(90.0), "underside")


@pytest.mark.parametrize(("lean", "rule"), [(29.9, TOP), (30.1, STANDING)])
def test_both_sides_of_the_limit_between_lying_and_standing(lean: float, rule: int) -> None:
    # A roof whose normal leans from straight up towards the front; laid so that it rises along V, both rules say 90.
    rise = (0.0, np.sin(np.radians(lean)), -np.cos(np.radians(lean)))
    found = measure(quad(CORNERS, (0, 0, 0), (1, 0, 0), rise))
    assert found.rule[0] == rule
    assert found.degrees[0] == pytest.approx(90.0)


def test_the_greater_surface_chooses_the_rule_and_alone_has_a_say() -> None:
    wall = quad(CORNERS, (0, 0, 0), (1, 0, 0), (0, 1, 0))
    # A ledge of half the wall's surface whose far edge lies to the right in the tile.
    ledge = quad(turned(-90), (0, 1, 0), (1, 0, 0), (0, 0, -0.5))
    found = measure(wall, ledge)
    assert found.rule[0] == STANDING
    assert found.degrees[0] == pytest.approx(90.0)
    assert found.certainty[0] == pytest.approx(1.0)
    assert found.share[0] == pytest.approx(2 / 3)


def cone(slope: float, sides: int = 24) -> tuple[np.ndarray, np.ndarray]:
    """Cap around +Y, unwrapped seen from above."""
    angle = np.linspace(0, 2 * np.pi, sides + 1)
    rim = np.stack([np.cos(angle), np.full(sides + 1, -slope), -np.sin(angle)], axis=1)
    xyz = np.stack([np.broadcast_to(np.zeros(3), (sides, 3)), rim[:-1], rim[1:]]).transpose(0, 2, 1)
    return xyz[:, [0, 2]] * np.array([1.0, -1.0])[None, :, None], xyz


def test_a_steep_cone_seen_from_above_is_uncertain() -> None:
    found = measure(cone(2.0))
    assert found.rule[0] == STANDING
    assert found.certainty[0] == pytest.approx(0.0, abs=1e-9)
    assert np.isnan(found.degrees[0])


def test_half_a_cone_is_certain_by_the_mean_length_of_half_a_round() -> None:
    # Mean of unit vectors evenly over half a round: 2 / pi = 0.6366 (over 12 sectors by their middles, 0.6385).
    uv, xyz = cone(2.0)
    found = measure((uv[:, :, :12], xyz[:, :, :12]))
    assert found.certainty[0] == pytest.approx(0.6385, abs=1e-3)
    assert found.degrees[0] == pytest.approx(-90.0)


def test_a_tube_rolled_out_is_upright_and_certain() -> None:
    angle = np.linspace(0, 2 * np.pi, 17)
    quads = [
        quad(
            CORNERS * [1 / 16, 1.0] + [k / 16, 0.0],
            (np.sin(angle[k]), 0.0, np.cos(angle[k])),
            (np.sin(angle[k + 1]) - np.sin(angle[k]), 0.0, np.cos(angle[k + 1]) - np.cos(angle[k])),
            (0.0, 2.0, 0.0),
        )
        for k in range(16)
    ]
    found = measure(*quads)
    assert found.degrees[0] == pytest.approx(90.0)
    assert found.certainty[0] == pytest.approx(1.0)


def test_two_walls_at_right_angles_in_the_tile_split_the_difference() -> None:
    # Directions 90 and 0 of equal weight: mean at 45 degrees, length sqrt(1/2).
    found = measure(quad(CORNERS, *FRONT), quad(turned(-90), (2, 0, 0), (1, 0, 0), (0, 1, 0)))
    assert found.degrees[0] == pytest.approx(45.0)
    assert found.certainty[0] == pytest.approx(np.sqrt(0.5))


def test_nothing_to_go_by_is_no_direction() -> None:
    flat = measure((np.zeros((3, 2, 1)), np.array([(0, 0, 0), (1, 0, 0), (0, 1, 0)], float).reshape(3, 3, 1)))
    assert np.isnan(flat.degrees[0])
    assert flat.certainty[0] == 0.0
    point = measure((np.zeros((3, 2, 1)), np.zeros((3, 3, 1))))
    assert np.isnan(point.degrees[0])
    assert point.share[0] == 0.0
    none = island_upright(np.zeros((3, 2, 0)), np.zeros((3, 3, 0)), np.zeros(0, np.int32), 0)
    assert len(none.degrees) == 0


def test_islands_do_not_see_each_other_nor_triangles_without_one() -> None:
    one, other = quad(CORNERS, *FRONT), quad(turned(180), *FRONT)
    uv, xyz = np.concatenate([one[0], other[0]], axis=2), np.concatenate([one[1], other[1]], axis=2)
    found = island_upright(uv, xyz, np.array([0, 0, 1, -1], np.int32), 3)
    np.testing.assert_allclose(found.degrees[:2], [90.0, -90.0])
    assert np.isnan(found.degrees[2])


def test_another_up_axis() -> None:
    found = measure(quad(CORNERS, (0, 0, 0), (1, 0, 0), (0, 0, 1)), up=(0.0, 0.0, 1.0), front=(0.0, -1.0, 0.0))
    assert (found.degrees[0], found.rule[0]) == (pytest.approx(90.0), STANDING)
    under = measure(quad(CORNERS, (0, 0, 0), (1, 0, 0), (0, -1, 0)), up=(0.0, 0.0, 1.0), front=(0.0, -1.0, 0.0))
    assert (under.degrees[0], under.rule[0]) == (pytest.approx(90.0), UNDERSIDE)


@settings(max_examples=40, deadline=None)
@given(st.floats(-179, 179), st.floats(0.1, 10), st.floats(-3, 3), st.booleans())
def test_turning_the_layout_turns_the_angle_and_nothing_else(
    degrees: float, scale: float, shift: float, mirror: bool
) -> None:
    flip = np.array([-1.0, 1.0]) if mirror else np.ones(2)
    wall = (CORNERS * [1.0, 0.6]) * flip
    turn = np.radians(degrees)
    matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    found = measure(quad(scale * wall @ matrix + shift, *FRONT))
    off = (found.degrees[0] - 90.0 - degrees + 180.0) % 360.0 - 180.0
    assert abs(off) < 1e-6
    assert found.certainty[0] == pytest.approx(1.0)
