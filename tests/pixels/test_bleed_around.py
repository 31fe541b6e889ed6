import numpy as np
import pytest

from tidegate.pixels.bleed_around import bleed_around


def scene(size=(64, 96), top=20, left=3):
    """An island of 20 x 20 texels, paint for 6 texels around it within the map, and none at the other end."""
    labels = np.full(size, -1, np.int16)
    labels[top : top + 20, left : left + 20] = 0
    painted = np.zeros(size, bool)
    painted[max(top - 6, 0) : top + 26, max(left - 6, 0) : left + 26] = True
    return painted, labels


@pytest.mark.parametrize(("left", "depth"), [(0, 0), (2, 2), (3, 3)])
def test_depth_and_place_beyond_the_left_end(left, depth):
    painted, labels = scene(left=left)
    found = bleed_around(painted, labels, 1, 4, True, True)
    assert (found.depth.tolist(), found.run_depth.tolist()) == ([depth], [depth])
    assert found.run_box[0, [0, 2]].tolist() == [96 - 4 + left, 96]
    x, y = found.run_at[0]
    assert x == 95 and 18 <= y < 42  # beside the island, at the other end


@pytest.mark.parametrize(("top", "row"), [(0, 63), (44, 0)])
def test_above_and_below(top, row):
    painted, labels = scene(top=top, left=30)
    found = bleed_around(painted, labels, 1, 4, True, True)
    assert found.depth.tolist() == [0]
    assert found.run_at[0, 1] == row
    assert found.run_box[0, [1, 3]].tolist() == ([60, 64] if row else [0, 4])


def test_paint_that_goes_on_at_the_other_end_is_no_fault():
    painted, labels = scene()
    painted[:, -4:] = True
    assert bleed_around(painted, labels, 1, 4, True, True).depth.tolist() == [4]


def test_none_where_no_island_is_near_or_the_map_ends_there():
    painted, labels = scene(left=4)
    assert bleed_around(painted, labels, 1, 4, True, True) is None
    painted, labels = scene(left=3)
    assert bleed_around(painted, labels, 1, 4, False, True) is None
    assert bleed_around(painted, labels, 1, 4, True, False) is not None
    assert bleed_around(None, labels, 1, 4, True, True) is None
