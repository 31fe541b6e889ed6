"""The zone against scipy's distances."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import distance_transform_edt

from tidegate.draw.bleed_zone import bleed_zone


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 9), st.floats(0.005, 0.2))
def test_it_is_the_disc_about_every_texel(seed: int, texels: int, share: float) -> None:
    inside = np.random.default_rng(seed).random((23, 31)) < share
    zone = bleed_zone(inside, texels)
    wanted = (distance_transform_edt(~inside) <= texels) & ~inside if inside.any() else np.zeros_like(inside)
    assert np.array_equal(zone, wanted)


def test_both_sides_of_the_reach() -> None:
    inside = np.zeros((1, 12), bool)
    inside[0, 2] = True
    assert np.flatnonzero(bleed_zone(inside, 3)[0]).tolist() == [0, 1, 3, 4, 5]  # 5 is 3 away, 6 is 4


def test_nothing_inside_and_no_reach_give_no_zone() -> None:
    assert not bleed_zone(np.zeros((4, 4), bool), 5).any()
    assert not bleed_zone(np.ones((4, 4), bool), 5).any()
    assert not bleed_zone(np.eye(4, dtype=bool), 0).any()


def test_a_reach_beyond_the_picture_fills_it() -> None:
    inside = np.zeros((9, 9), bool)
    inside[0, 0] = True
    assert int(bleed_zone(inside, 5000).sum()) == 80
