"""How often each code of a channel occurs."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .samples import Image, white
from .strips import strips


def histogram(channel: Image, inside: NDArray[np.bool_] | None = None) -> NDArray[np.int64]:
    """(256,) or (65536,) counts of the codes of an (H, W) uint8 or uint16 channel; only where `inside`, if given."""
    if channel.ndim != 2:
        raise ValueError(f"a channel is (H, W), came {channel.shape}")
    counts = np.zeros(white(channel) + 1, np.int64)
    for top, bottom in strips(*channel.shape):
        part = channel[top:bottom]
        part = part.reshape(-1) if inside is None else part[inside[top:bottom]]
        counts += np.bincount(part, minlength=len(counts))
    return counts


def code_at_share(counts: NDArray[np.int64], share: float) -> int:
    """The lowest code that at least `share` of the texels do not exceed; 0 for an empty histogram."""
    total = int(counts.sum())
    if not total:
        return 0
    return int(np.searchsorted(np.cumsum(counts), max(1, int(np.ceil(share * total - 1e-9)))))
