"""Whether an alpha channel says anything."""

from __future__ import annotations

from dataclasses import dataclass

from .histogram import histogram
from .samples import Image, as_channels, white


@dataclass(frozen=True, slots=True)
class AlphaUse:
    """low, high: extreme codes. opaque, clear: shares of texels fully opaque and fully transparent. partial: the rest."""

    low: int
    high: int
    opaque: float
    clear: float

    @property
    def unused(self) -> bool:
        """Every texel has the same alpha, whatever it is."""
        return self.low == self.high

    @property
    def partial(self) -> float:
        """Share of texels that are neither opaque nor transparent."""
        return 1.0 - self.opaque - self.clear


def alpha_use(image: Image) -> AlphaUse | None:
    """Use of the last channel of a two- or four-channel image, None when it has one or three."""
    image = as_channels(image)
    if image.shape[2] not in (2, 4):
        return None
    counts = histogram(image[:, :, -1])
    total = int(counts.sum())
    used = counts.nonzero()[0]
    return AlphaUse(int(used[0]), int(used[-1]), int(counts[white(image)]) / total, int(counts[0]) / total)
