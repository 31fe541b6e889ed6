"""What the pixels of one map say by themselves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tidegate.measure.decoding import Pixels
from tidegate.measure.flatness import map_flatness
from tidegate.model.map_uses import DATA, channel_index
from tidegate.pixels.albedo import BRIGHTEST, DARKEST, AlbedoRange, albedo_range
from tidegate.pixels.alpha_use import AlphaUse, alpha_use
from tidegate.pixels.flat import Flatness
from tidegate.pixels.grey import Greyness, greyness
from tidegate.pixels.height_codes import HeightCodes, height_codes
from tidegate.pixels.histogram import histogram
from tidegate.pixels.normal_length import NormalLength, normal_length
from tidegate.pixels.roughness import RoughnessUse, roughness_use

USUAL_ALBEDO = ((float(DARKEST), float(BRIGHTEST)),)  # where no rule asks for others
GREY_SLACK = 8  # codes of 8 bits that lossy saving may set between the channels of a grey texel


@dataclass(frozen=True, slots=True)
class MapPixels:
    """Measures of one map; those of slots it does not serve are None. map: its path.

    looked_at: share of its texels that normals, albedo, metalness and roughness were measured on: inside the islands
    where the layout is known, else all. albedo: one for each pair of codes asked for. metalness: histogram of its channel.
    """

    map: str
    flat: Flatness
    looked_at: float = 1.0
    alpha: AlphaUse | None = None
    grey: Greyness | None = None
    normal: NormalLength | None = None
    albedo: tuple[AlbedoRange, ...] = ()
    metalness: NDArray[np.int64] | None = None
    roughness: RoughnessUse | None = None
    height: HeightCodes | None = None


def measure_map(
    path: str,
    uses: dict[str, str],
    image: Pixels,
    inside: NDArray[np.bool_] | None,
    albedo_codes: Sequence[tuple[float, float]] = USUAL_ALBEDO,
) -> MapPixels:
    """Everything of one decoded map. uses: slot -> channels. inside: (h, w) texels of islands, None for all. albedo_codes: pairs
    of the darkest and the brightest grey that rules allow."""
    flat = map_flatness(image)
    count = image.shape[2]
    if flat.low == flat.high:  # one texel says all
        image, inside = image[:1, :1], None
    slack = GREY_SLACK * (257 if image.dtype == np.uint16 else 1)
    looked_at = 1.0 if inside is None else float(np.count_nonzero(inside)) / inside.size

    def counts(slot: str) -> NDArray[np.int64]:
        return histogram(image[:, :, channel_index(uses[slot], count)], inside)

    return MapPixels(
        map=path,
        flat=flat,
        looked_at=looked_at,
        alpha=alpha_use(image),
        grey=greyness(image, slack) if count >= 3 and any(slot in DATA for slot in uses) else None,
        normal=normal_length(image, inside) if "normal" in uses and count >= 3 else None,
        albedo=tuple(albedo_range(image, inside, *pair) for pair in albedo_codes) if "base_color" in uses else (),
        metalness=counts("metalness") if "metalness" in uses else None,
        roughness=roughness_use(counts("roughness")) if "roughness" in uses else None,
        height=height_codes(counts("height")) if "height" in uses else None,
    )
