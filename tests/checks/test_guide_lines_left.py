"""Lines of the guide in a map: what makes them a finding, and paint that only looks like it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.support.laid_props import SIZE
from tests.support.mesh_props import mesh_file, part
from tests.support.painted_props import Pictures, header_of, told
from tidegate.model.mesh import Material
from tidegate.model.prop import Binding, Master, Prop, TextureMap

MAP = "oak_base_color.png"
SIDE, CELLS, LEFT = 600, 4, 200  # texels of one square island of 4 x 4 quads, a metre wide, and where it begins
STEP = SIDE // CELLS


def board(*, cells: int = CELLS, bend: float = 0.0) -> Prop:
    """A flat board, or a folding one: every column of quads bends from the one before, one way and the other."""
    lines = np.arange(cells + 1) / cells
    x, y = np.meshgrid(lines, lines)
    z = np.tan(np.radians(bend / 2)) / cells * (np.arange(cells + 1) % 2) * np.ones_like(x)
    points = np.stack([x, y, z], axis=-1).reshape(-1, 3)
    first = (np.arange(cells)[:, None] * (cells + 1) + np.arange(cells)).reshape(-1)
    quads = np.stack([first, first + 1, first + cells + 2, first + cells + 1], axis=1)
    triangles = quads[:, [0, 1, 2, 0, 2, 3]].reshape(-1, 3)
    uv = (LEFT + SIDE * np.stack([x, y], axis=-1).reshape(-1, 2)) / SIZE
    one = part(points, triangles, uv=uv, material=0)
    image = np.zeros((SIZE, SIZE, 3), np.uint8)
    return Prop(
        name="crate",
        meshes=(mesh_file(one, path="a.glb", materials=(Material("oak"),)),),
        maps=(TextureMap(MAP, MAP, header_of(image), ("base_color",)),),
        bindings=(Binding("a.glb", "oak", "base_color", MAP, "name", "rgb"),),
    )


def painted() -> np.ndarray:
    """Gentle paint over the board and 16 texels around it, on a ground of 20."""
    image = np.full((SIZE, SIZE, 3), 20, np.uint8)
    wave = 120 + 30 * np.sin(np.arange(SIDE + 32) / 40)
    low = SIZE - LEFT - SIDE - 16
    image[low : low + SIDE + 32, LEFT - 16 : LEFT + SIDE + 16] = np.rint(wave)[:, None, None]
    return image


def lined(image: np.ndarray, at: list[int], code: int, length: int = SIDE) -> np.ndarray:
    """Lines two texels wide across the board, upright and level, so many texels from its left and lower border."""
    out = image.copy()
    for place in at:
        low, top = LEFT + place, SIZE - LEFT - place
        out[SIZE - LEFT - SIDE : SIZE - LEFT - SIDE + length, low - 1 : low + 1] = code
        out[top - 1 : top + 1, LEFT : LEFT + length] = code
    return out


WIRE = [i * STEP for i in range(CELLS + 1)]


def said(image: np.ndarray, prop: Prop | None = None, **limits: object) -> list:
    return told("guide-lines-left", prop or board(), Pictures({MAP: image}), **limits)


@pytest.mark.parametrize("code", [0, 255])
def test_a_guide_is_named(code: int) -> None:
    (one,) = said(lined(painted(), WIRE, code))
    assert (one.certain, one.level, one.place.map, one.place.islands) == (True, "", MAP, (1,))
    assert f"thin {'dark' if code == 0 else 'light'} lines along" in one.message
    assert one.measured > 0.95


def test_paint_without_a_guide_is_left_alone() -> None:
    assert said(painted()) == []


@pytest.mark.parametrize(("part_of", "amount"), [(0.45, 0), (0.55, 1)])
def test_the_share_of_the_wire_from_both_sides(part_of: float, amount: int) -> None:
    assert len(said(lined(painted(), WIRE, 0, length=round(SIDE * part_of)))) == amount


def test_lines_beside_the_wire_are_paint() -> None:
    assert said(lined(painted(), [at + 40 for at in WIRE[:-1]], 0)) == []


def test_fine_lines_all_over_are_paint() -> None:
    """A line every ten texels, those of the wire among them: aside there are as many."""
    image = lined(painted(), list(range(0, SIDE + 1, 10)), 0)
    assert said(image, stands_out=0.0) and not said(image, stands_out=0.4, share=0.3)


def test_lines_on_the_inner_edges_alone_are_no_guide() -> None:
    assert said(lined(painted(), WIRE[1:-1], 0)) == []


def test_lines_along_the_borders_alone_cannot_be_told_from_outlines() -> None:
    """With edges inside, a guide would show those too; without any, it may be either."""
    image = lined(painted(), [0, SIDE], 0)
    assert said(image) == []
    (one,) = said(image, board(cells=1))
    assert not one.certain and "borders" in one.message


@pytest.mark.parametrize(("bend", "certain"), [(18.0, True), (25.0, True)])
def test_edges_that_bend_are_left_to_paint(bend: float, certain: bool) -> None:
    """Upright edges bend; the level ones do not, and they are painted here only where the board is flat."""
    level = painted()
    for at in WIRE:
        level[SIZE - LEFT - at - 1 : SIZE - LEFT - at + 1, LEFT : LEFT + SIDE] = 0
    level[SIZE - LEFT - SIDE : SIZE - LEFT, [LEFT - 1, LEFT, LEFT + SIDE - 1, LEFT + SIDE]] = 0
    # Of the inner wire half bends. With it half of the lines are missing, without it none are.
    found = said(level, board(bend=bend), share=0.6)
    assert len(found) == (bend > 20) and all(one.certain for one in found)


@pytest.mark.parametrize(("in_map", "in_master"), [(False, True), (True, False), (True, True)])
def test_map_and_master_are_each_told_of_their_own_lines(in_map: bool, in_master: bool) -> None:
    clean, guide = painted(), lined(painted(), WIRE, 255)
    image, merged = (guide if shown else clean for shown in (in_map, in_master))
    prop = board()
    header = replace(prop.maps[0].header, format="psd")
    prop = replace(prop, masters=(Master("oak.psd", "oak.psd", header, MAP),))

    def count(check: str) -> int:
        return len(told(check, prop, Pictures({MAP: image, "oak.psd": merged})))

    assert count("guide-lines-left") == in_map
    assert count("guide-left-in-master") == (in_master and not in_map)
    assert count("map-unlike-master") == (in_map and not in_master)
