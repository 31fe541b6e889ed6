"""The smallest maps, narrow ones, and layouts without islands: every detector answers, none raises."""

import numpy as np
import pytest

from tidegate.pixels.albedo import albedo_range
from tidegate.pixels.alpha_use import alpha_use
from tidegate.pixels.background import background
from tidegate.pixels.bleed import bleed
from tidegate.pixels.border_bands import border_bands
from tidegate.pixels.differing import differing
from tidegate.pixels.fit import fit
from tidegate.pixels.flat import flatness
from tidegate.pixels.grey import greyness
from tidegate.pixels.master import compare_master
from tidegate.pixels.normal_length import normal_length
from tidegate.pixels.same_picture import same_picture, signature
from tidegate.pixels.unpainted import unpainted


@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
@pytest.mark.parametrize("size", [(1, 1), (1, 7), (5, 1), (3, 300), (300, 2)])
@pytest.mark.parametrize("islands", [0, 1])
def test_every_detector_answers(size, kind, islands):
    labels = np.full(size, -1, np.int32)
    if islands:
        labels[: (size[0] + 1) // 2] = 0
    image = np.random.default_rng(0).integers(0, 256, (*size, 4)).astype(kind)
    bands = border_bands(labels, islands, 5)
    ground = background(image, bands)
    shows = differing(image, ground.color) if ground else None
    depth = bleed(shows, bands, 5)
    assert depth.depth.shape == (islands,)
    assert unpainted(shows, labels, bands.totals[:, 0]).texels.shape == (islands,)
    assert flatness(image, True).common_share > 0
    assert alpha_use(image).low <= alpha_use(image).high
    assert greyness(image).colored <= 1
    assert albedo_range(image).texels == labels.size
    assert normal_length(image[..., :3]).texels == labels.size
    assert compare_master(image, image).differing == 0
    assert same_picture(signature(image), signature(image)) in ("same", "cannot tell")
    assert fit(image, bands).verdict in ("fits", "cannot tell")
    if not islands:
        assert fit(image, bands).verdict == "cannot tell"
