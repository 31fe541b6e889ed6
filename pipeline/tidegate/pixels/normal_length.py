"""Whether a normal map holds unit vectors, points outwards, and was kept off the sRGB curve.

n = 2 c / (2^b - 1) - 1 per channel. A correctly rounded unit normal misses length 1 by at most sqrt(3) / (2^b - 1): each
channel by 1 / (2^b - 1). Filtering, resizing and lossy saving shorten, so percentiles are judged, never the extremes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .color_space import decode_table, encode_table
from .histogram import code_at_share
from .samples import Image, as_channels, evenly_spread, white
from .strips import strips

EIGHT_BIT_BOUND = 3**0.5 / 255  # 0.0067924
PERCENTILES = (0.01, 0.05, 0.5, 0.95, 0.99)

_SAMPLE = 1 << 16
_STEPS = 1 << 13  # lengths of 16-bit maps are counted in these parts of 1
_MEDIAN_OFF = 0.15  # length of a typical vector may miss 1 by so much before the map is doubted


@dataclass(frozen=True, slots=True)
class NormalLength:
    """lengths: vector lengths at PERCENTILES. beyond: share of texels further from 1 than rounding explains.

    inward: share of texels with blue at or below one half of its range, vectors that point into the surface.
    mean: mean vector. texels: how many were looked at.
    curve: "" when stored as it should be; "encoded" when the sRGB curve was applied on saving, "decoded" when it was taken off:
    undoing it makes unit vectors of what is none. is_normal_map: vectors are near unit length, as stored or with the curve
    undone, and point outwards on the whole; False: some other picture stands here.
    """

    lengths: tuple[float, ...]
    beyond: float
    inward: float
    mean: tuple[float, float, float]
    texels: int
    curve: str
    is_normal_map: bool


def normal_length(image: Image, inside: NDArray[np.bool_] | None = None) -> NormalLength:
    """Lengths over the texels of a normal map, three channels or more.

    inside: (H, W) texels to look at; the ground between islands need not be a normal. ValueError with fewer channels.
    """
    image = as_channels(image)
    height, width, channels = image.shape
    if channels < 3:
        raise ValueError("a normal map has three channels")
    top_code = white(image)
    bound = 3**0.5 / top_code
    counter = _EightBit() if top_code == 255 else _SixteenBit()
    inward = 0
    sums = np.zeros(3, np.int64)
    for top, bottom in strips(height, width):
        part = image[top:bottom]
        where = None if inside is None else inside[top:bottom]
        red, green, blue = (part[:, :, c].reshape(-1) if where is None else part[:, :, c][where] for c in range(3))
        counter.add(red, green, blue)
        inward += int(np.count_nonzero(blue <= top_code // 2))
        sums += [int(channel.sum(dtype=np.int64)) for channel in (red, green, blue)]
    texels = int(counter.counts.sum())
    if not texels:
        return NormalLength((0.0,) * len(PERCENTILES), 0.0, 0.0, (0.0, 0.0, 0.0), 0, "", False)
    lengths = tuple(round(counter.length(code_at_share(counter.counts, p)), 6) for p in PERCENTILES)
    beyond = counter.beyond(bound) / texels
    mean = tuple(round(float(s) * 2 / top_code / texels - 1, 6) for s in sums)
    curve, is_normal = _curve(_inside_sample(image, inside), mean[2])
    return NormalLength(lengths, beyond, inward / texels, (mean[0], mean[1], mean[2]), texels, curve, is_normal)


class _EightBit:
    """Counts squared lengths as whole numbers: (2 c - 255)^2 summed, at most 3 x 255^2."""

    def __init__(self) -> None:
        self.counts = np.zeros(3 * 255**2 + 1, np.int64)

    def add(self, red: Image, green: Image, blue: Image) -> None:
        total = np.zeros(len(red), np.uint32)
        for channel in (red, green, blue):
            # 16 bits wrap below zero and in the square, which is at most 65,025 and so right again.
            square = channel.astype(np.uint16)
            square += square
            square -= np.uint16(255)
            square *= square
            total += square
        self.counts += np.bincount(total, minlength=len(self.counts))

    def length(self, at: int) -> float:
        return float(at**0.5 / 255)

    def beyond(self, bound: float) -> int:
        length = np.sqrt(np.arange(len(self.counts))) / 255
        return int(self.counts[np.abs(length - 1) > bound + 1e-12].sum())


class _SixteenBit:
    """Counts lengths in steps; how many lie beyond the bound is decided on the values themselves."""

    def __init__(self) -> None:
        self.square = (np.arange(65_536) * (2 / 65_535) - 1) ** 2
        self.counts = np.zeros(2 * _STEPS, np.int64)
        self.off = 0

    def add(self, red: Image, green: Image, blue: Image) -> None:
        length = np.sqrt(self.square[red] + self.square[green] + self.square[blue])
        self.off += int(np.count_nonzero(np.abs(length - 1) > 3**0.5 / 65_535 + 1e-12))
        self.counts += np.bincount(np.rint(length * _STEPS).astype(np.int64), minlength=len(self.counts))

    def length(self, at: int) -> float:
        return at / _STEPS

    def beyond(self, bound: float) -> int:
        return self.off


def _inside_sample(image: Image, inside: NDArray[np.bool_] | None) -> Image:
    """(n, C) texels at even steps, only those inside."""
    if inside is None:
        return evenly_spread(image, _SAMPLE)
    share = max(float(np.count_nonzero(inside)) / inside.size, 1e-6)
    wanted = min(int(_SAMPLE / share), inside.size)
    return evenly_spread(image, wanted)[evenly_spread(inside.view(np.uint8), wanted)[:, 0] > 0]


def _curve(texels: Image, mean_blue: float) -> tuple[str, bool]:
    """Which curve, undone, turns the vectors into unit ones; and whether they are normals at all."""
    if not len(texels):
        return "", False
    codes = white(texels) + 1
    plain = np.arange(codes) / (codes - 1)
    off = {}
    upright = {}
    for name, table in (("", plain), ("encoded", decode_table(codes)), ("decoded", encode_table(codes))):
        vector = table[texels[:, :3]] * 2 - 1
        off[name] = float(np.median(np.abs(np.sqrt((vector * vector).sum(axis=1)) - 1)))
        upright[name] = float(vector[:, 2].mean())
    best = min(("encoded", "decoded"), key=lambda name: off[name])
    curved = off[""] > _MEDIAN_OFF / 2 and off[best] < 0.05 and off[best] * 4 < off[""] and upright[best] > 0.5
    if curved:
        return best, True
    return "", off[""] <= _MEDIAN_OFF and mean_blue > 0.25
