import numpy as np
import pytest

from tests.pixels.synthetic import TEXTURES, texture
from tidegate.pixels.guide_trace import guide_trace


def upright_lines(x, rows):
    """Points down upright lines, the line in the middle of texel column x."""
    y = np.arange(*rows) + 0.5
    point = np.concatenate([np.stack([np.full(len(y), c + 0.5), y], axis=1) for c in x])
    return point, np.tile([1.0, 0.0], (len(point), 1))


@pytest.mark.parametrize(("step", "on"), [(-5, 1.0), (-3, 0.0), (3, 0.0), (5, 1.0)])
@pytest.mark.parametrize("depth", [8, 16])
def test_a_line_on_flat_paint_from_both_sides_of_the_least_contrast(step, on, depth):
    """4 of 255 codes are the least; darker or lighter does not matter, nor does the depth."""
    image = np.full((64, 64, 3), 200, np.uint8)
    image[:, 30] = 200 + step
    found = guide_trace(image if depth == 8 else image.astype(np.uint16) * 257, *upright_lines([30], (5, 59)))
    assert (found.points, found.on, found.aside) == (54, on, 0.0)
    assert found.darker == (step < 0) or not on


def test_a_line_that_shows_in_one_channel_alone():
    image = np.full((64, 64, 3), 100, np.uint8)
    image[:, 30] = (100, 110, 100)
    found = guide_trace(image, *upright_lines([30], (5, 59)))
    assert (found.on, found.darker) == (1.0, False)


@pytest.mark.parametrize(("wide", "on"), [(4, 1.0), (9, 0.0)])
def test_a_wide_band_is_no_line(wide, on):
    image = np.full((64, 64), 200, np.uint8)
    image[:, 32 - wide // 2 : 32 + -(-wide // 2)] = 90
    assert guide_trace(image, *upright_lines([31], (5, 59))).on == on


def test_an_edge_between_two_paints_is_no_line():
    image = np.full((64, 64), 60, np.uint8)
    image[:, 31:] = 180
    assert guide_trace(image, *upright_lines([30], (5, 59))).on == 0.0


def test_no_wire_no_answer():
    assert guide_trace(np.zeros((8, 8), np.uint8), np.zeros((0, 2)), np.zeros((0, 2))).points == 0


@pytest.mark.parametrize("kind", TEXTURES)
def test_a_line_left_in_a_painting_stands_out_and_without_it_nothing_does(kind):
    for seed in range(6):
        image = texture(kind, np.random.default_rng(seed), 160, 160)
        lines = upright_lines([40, 71, 103], (10, 150))
        clean = guide_trace(image, *lines)
        assert clean.on - clean.aside < 0.2
        marked = image.astype(float)
        marked[:, [40, 71, 103]] *= 0.4
        found = guide_trace(marked.astype(np.uint8), *lines)
        assert found.darker and found.on > 0.6, (seed, found)
        assert found.on - found.aside > (0.3 if kind == "noisy" else 0.4), (seed, found)
