import numpy as np
import pytest

from tests.pixels.synthetic import TEXTURES, texture
from tidegate.pixels.guide_trace import guide_trace


def upright_lines(x, rows, island):
    """Points down upright lines, the line in the middle of texel column x."""
    y = np.arange(*rows) + 0.5
    point = np.concatenate([np.stack([np.full(len(y), c + 0.5), y], axis=1) for c in x])
    return point, np.tile([1.0, 0.0], (len(point), 1)), np.full(len(point), island, np.int32)


def test_a_dark_line_on_flat_paint_is_as_strong_as_it_is_dark():
    image = np.full((64, 64, 3), 200, np.uint8)
    image[:, 30] = 149  # 51 / 255 darker
    found = guide_trace(image, *upright_lines([30], (5, 59), 0), 2)
    assert found.contrast[0] == pytest.approx(-0.2)
    assert found.aside[0] == 0
    assert found.strength[0] == pytest.approx(0.2 / (0.5 / 255))
    assert found.points.tolist() == [54, 0]
    assert found.strength[1] == 0.0


@pytest.mark.parametrize("kind", TEXTURES)
def test_a_line_left_in_a_painting_stands_out_and_without_it_nothing_does(kind):
    clean, drawn = [], []
    for seed in range(8):
        image = texture(kind, np.random.default_rng(seed), 160, 160)
        lines = upright_lines([40, 71, 103], (10, 150), 0)
        clean.append(guide_trace(image, *lines, 1).strength[0])
        marked = image.astype(float)
        marked[:, [40, 71, 103]] *= 0.4
        found = guide_trace(marked.astype(np.uint8), *lines, 1)
        drawn.append(found.strength[0])
        assert found.contrast[0] < 0
    assert np.median(drawn) > 3 * np.median(clean) + 3
