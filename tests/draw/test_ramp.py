"""The ramp: published colors at known places, and lightness that only grows."""

from __future__ import annotations

import numpy as np

from tidegate.draw.ramp import STEPS, ramp, steps_of


def test_published_colors() -> None:
    # viridis as published (bids.github.io/colormap): first, middle and last of 256, floats times 255.
    table = ramp()
    assert table.shape == (STEPS, 3)
    assert table[0].tolist() == [68, 1, 84]  # 0.267004 0.004874 0.329415
    assert table[-1].tolist() == [253, 231, 37]  # 0.993248 0.906157 0.143936


def test_it_grows_lighter_evenly() -> None:
    linear = (ramp() / 255.0) ** 2.2
    lightness = 116 * np.cbrt(linear @ (0.2126, 0.7152, 0.0722)) - 16  # CIE L*, about
    steps = np.diff(lightness[::5])  # over five colors, as eight bits round single ones up and down
    assert steps.min() > 0
    assert steps.max() / np.median(steps) < 2  # no band that jumps out


def test_the_scale_is_logarithmic_and_ends_are_kept() -> None:
    values = np.array([50.0, 100.0, 200.0, 400.0, 800.0])
    # From 100 to 400: 200 is half way on a logarithmic scale, 127.5 of 255; linear it would be 85.
    steps = steps_of(values, 100.0, 400.0).tolist()
    assert steps[:2] == [0, 0] and steps[3:] == [255, 255]
    assert steps[2] in (127, 128)
