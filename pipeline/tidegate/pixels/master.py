"""Whether a master's merged picture is the flat map: if not, the map was not saved again, or a layer too many was visible."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .clusters import clusters
from .reductions import REDUCTIONS
from .resample import eight_bit, reduced
from .samples import Image, as_channels
from .strips import strips

TOLERANCE = 2  # codes of 8 bits at equal size: rounding when layers are merged
SCALED_TOLERANCE = 7  # codes, of 3 x 3 means, when one of the two had to be reduced by a filter of ours
WORTH_ANOTHER = 0.0002  # share of texels that differ above which another way of reducing is tried
LOSSY_BLOCK = (
    8  # texels a side of the means that are compared where the flat map is lossy: JPEG keeps those of its blocks
)
# The same where blocks of a JPEG are compared one to one, which no filter changed: what packing at quality 60 does stays below.
LOSSY_TOLERANCE, LOSSY_SLACK = 7, 0.04
SCALED_SLACK = 0.18  # of the contrast within those 3 x 3 texels, which filters sharpen or soften differently
GUIDE_ON, GUIDE_TIMES = 0.3, 8.0  # share of wire texels that differ, and how many times the share off the wire
LEAST_OFF_WIRE = 64  # texels off the wire, fewer of which say nothing

_BLOCK = 8  # texels within which scattered differences count as one place


@dataclass(frozen=True, slots=True)
class MasterComparison:
    """comparable: the shapes agree, so the rest means something; else every other figure is 0.

    size: width, height at which they were compared, the smaller of the two, or an eighth of it where the flat map is lossy.
    scaled: one of them, or both, were reduced for it.
    differing: share of the texels compared that differ. largest: largest difference in codes of 8 bits.
    ignored: share of texels left out, where one side is transparent and the other has no alpha.
    boxes: worst places, pixel boxes of the flat map, the largest first, with their count of differing texels.
    on_wire, off_wire: share that differs on the layout's wire and off it, None without a wire or with hardly a texel off it.
    """

    comparable: bool
    size: tuple[int, int]
    scaled: bool
    differing: float
    largest: int
    ignored: float
    boxes: tuple[tuple[int, int, int, int], ...]
    box_texels: tuple[int, ...]
    on_wire: float | None
    off_wire: float | None

    @property
    def guide_visible(self) -> bool:
        """The difference lies on the layout's wire and hardly anywhere else."""
        if self.on_wire is None or self.off_wire is None:
            return False
        return self.on_wire >= GUIDE_ON and self.on_wire >= GUIDE_TIMES * self.off_wire


def compare_master(
    merged: Image,
    flat: Image,
    wire: NDArray[np.bool_] | None = None,
    tolerance: int | None = None,
    worst: int = 8,
    lossy: bool = False,
) -> MasterComparison:
    """The master's merged picture against the flat map.

    wire: (H, W) of the flat map, True on the layout's lines. tolerance: codes of 8 bits, by default TOLERANCE or, when
    one of the two had to be reduced, SCALED_TOLERANCE of their 3 x 3 means, more where the contrast is high.
    lossy: the flat map was packed with loss, so means of LOSSY_BLOCK x LOSSY_BLOCK texels are compared.
    One that is larger is reduced in every usual way until it agrees; else by the one that comes nearest.
    """
    merged, flat = as_channels(merged), as_channels(flat)
    size = min(merged.shape[:2], flat.shape[:2])
    if merged.shape[0] * flat.shape[1] != merged.shape[1] * flat.shape[0]:
        return MasterComparison(False, size[::-1], False, 0.0, 0, 0.0, (), (), None, None)
    if merged.shape[:2] == flat.shape[:2]:
        return _at_one_size(merged, flat, (flat.shape[1], flat.shape[0]), False, wire, tolerance, worst, lossy)
    nearest: MasterComparison | None = None
    for way in REDUCTIONS:
        one, two = (image if image.shape[:2] == size else way(image, *size) for image in (merged, flat))
        found = _at_one_size(one, two, (flat.shape[1], flat.shape[0]), True, wire, tolerance, worst, lossy)
        if nearest is None or found.differing < nearest.differing:
            nearest = found
        if nearest.differing <= WORTH_ANOTHER:
            break
    assert nearest is not None  # REDUCTIONS is not empty
    return nearest


def _at_one_size(
    merged: Image,
    flat: Image,
    full: tuple[int, int],
    scaled: bool,
    wire: NDArray[np.bool_] | None,
    tolerance: int | None,
    worst: int,
    lossy: bool,
) -> MasterComparison:
    """Both at the size at which they are compared. full: width, height of the flat map. scaled: one of them was reduced to it."""
    size = (flat.shape[0], flat.shape[1])
    full_width, full_height = full
    blocks = lossy and not scaled and not any(side % LOSSY_BLOCK for side in size)
    if lossy:
        scaled, size = True, (max(size[0] // LOSSY_BLOCK, 1), max(size[1] // LOSSY_BLOCK, 1))
        merged, flat = reduced(merged, *size), reduced(flat, *size)
    usual, slack = (SCALED_TOLERANCE, SCALED_SLACK) if scaled else (TOLERANCE, None)
    if blocks:
        usual, slack = LOSSY_TOLERANCE, LOSSY_SLACK
    differs, compared, largest = _differences(merged, flat, usual if tolerance is None else tolerance, slack)
    total = size[0] * size[1]
    count = int(np.count_nonzero(differs))
    on = off = None
    if wire is not None:
        there = _reduced_any(wire, *size) if scaled else wire
        # Lines are drawn softly or wider, and means of 3 x 3 carry them on: what lies beside counts neither on nor off the wire.
        beside = _around(there.view(np.uint8), np.maximum).astype(bool)
        off_wire = ~beside & compared
        if np.count_nonzero(off_wire) >= LEAST_OFF_WIRE:
            on, off = _share(differs, there & compared), _share(differs, off_wire)
    boxes, texels = _worst(differs, full_width / size[1], full_height / size[0], full_width, full_height, worst)
    looked_at = int(np.count_nonzero(compared))
    return MasterComparison(
        True,
        size[::-1],
        scaled,
        count / max(looked_at, 1),
        largest,
        1 - looked_at / max(total, 1),
        boxes,
        texels,
        on,
        off,
    )


def _differences(
    merged: Image, flat: Image, limit: int, slack: float | None
) -> tuple[NDArray[np.bool_], NDArray[np.bool_], int]:
    """Where they differ, where they were compared, and the largest difference."""
    height, width = flat.shape[:2]
    differs = np.zeros((height, width), bool)
    compared = np.ones((height, width), bool)
    largest = 0
    colors, alpha = _pairs(merged.shape[2], flat.shape[2])
    for top, bottom in strips(height, width):
        low, high = (top, bottom) if slack is None else (max(top - 1, 0), min(bottom + 1, height))
        one, two = eight_bit(merged[low:high]), eight_bit(flat[low:high])
        keep = slice(top - low, bottom - low)
        visible = None
        if alpha is not None:
            visible = _opacity(one, two, alpha)[keep]
        for a, b in colors:
            apart = _apart(one[:, :, a], two[:, :, b], slack)[keep]
            if visible is not None:
                apart = np.where(visible, apart, np.uint8(0))
            largest = max(largest, int(apart.max(initial=0)))
            differs[top:bottom] |= apart > limit
        if visible is not None and alpha == "one side":
            compared[top:bottom] = visible
        if alpha == "both":
            apart = _apart(one[:, :, -1], two[:, :, -1], slack)[keep]
            largest = max(largest, int(apart.max(initial=0)))
            differs[top:bottom] |= apart > limit
    return differs, compared, largest


def _pairs(one: int, two: int) -> tuple[list[tuple[int, int]], str | None]:
    """Which channels to hold against each other, grey spread over three, and who has alpha."""
    color_one, color_two = (1 if one <= 2 else 3), (1 if two <= 2 else 3)
    colors = [(min(c, color_one - 1), min(c, color_two - 1)) for c in range(max(color_one, color_two))]
    with_alpha = (one in (2, 4)) + (two in (2, 4))
    return colors, (None, "one side", "both")[with_alpha]


def _opacity(one: NDArray[np.uint8], two: NDArray[np.uint8], alpha: str) -> NDArray[np.bool_]:
    """Texels whose colour shows: fully opaque where only one side has alpha, not fully transparent where both have."""
    if alpha == "both":
        return np.asarray((one[:, :, -1] > 0) | (two[:, :, -1] > 0))
    side = one if one.shape[2] in (2, 4) else two
    return np.asarray(side[:, :, -1] == 255)


def _apart(a: NDArray[np.uint8], b: NDArray[np.uint8], slack: float | None) -> NDArray[np.uint8]:
    """Absolute difference in codes. With slack, that of the 3 x 3 means, less this share of the contrast among the nine."""
    if slack is None:
        return np.asarray(np.maximum(a, b) - np.minimum(a, b))
    low, high = _around(np.minimum(a, b), np.minimum), _around(np.maximum(a, b), np.maximum)
    mean = np.abs(_around(a.astype(np.int16) - b, np.add)) / 9
    return np.asarray(np.clip(mean - slack * (high - low), 0, 255).astype(np.uint8))


def _around(channel: NDArray[Any], gather: np.ufunc) -> NDArray[Any]:
    """Each texel gathered with its eight neighbours; the border texels stand for those beyond it."""
    wide = np.pad(channel, 1, mode="edge")
    across = gather(gather(wide[:, :-2], wide[:, 1:-1]), wide[:, 2:])
    return np.asarray(gather(gather(across[:-2], across[1:-1]), across[2:]))


def _share(differs: NDArray[np.bool_], where: NDArray[np.bool_]) -> float:
    count = int(np.count_nonzero(where))
    return float(np.count_nonzero(differs & where)) / count if count else 0.0


def _reduced_any(mask: NDArray[np.bool_], height: int, width: int) -> NDArray[np.bool_]:
    """True where any texel that falls there is True."""
    y, x = np.nonzero(mask)
    out = np.zeros((height, width), bool)
    out[y * height // mask.shape[0], x * width // mask.shape[1]] = True
    return out


def _worst(
    differs: NDArray[np.bool_], across: float, down: float, width: int, height: int, worst: int
) -> tuple[tuple[tuple[int, int, int, int], ...], tuple[int, ...]]:
    """Places of difference, gathered over blocks of a few texels, as boxes of the flat map."""
    rows, columns = differs.shape
    padded = np.zeros((-rows % _BLOCK + rows, -columns % _BLOCK + columns), bool)
    padded[:rows, :columns] = differs
    counts = padded.reshape(padded.shape[0] // _BLOCK, _BLOCK, -1, _BLOCK).sum(axis=(1, 3))
    place = np.flatnonzero(counts)
    found = clusters(place, np.zeros(len(place), np.int32), counts.shape[1])
    texels = np.bincount(found.number_of, weights=counts.reshape(-1)[place], minlength=len(found)).astype(np.int64)
    boxes, sizes = [], []
    for at in np.argsort(-texels, kind="stable")[:worst].tolist():
        x0, y0, x1, y1 = (found.box[at] * _BLOCK).tolist()
        inside = differs[y0:y1, x0:x1]
        across_at, down_at = np.flatnonzero(inside.any(axis=0)), np.flatnonzero(inside.any(axis=1))
        boxes.append(
            (
                int((x0 + across_at[0]) * across),
                int((y0 + down_at[0]) * down),
                min(int(np.ceil((x0 + across_at[-1] + 1) * across)), width),
                min(int(np.ceil((y0 + down_at[-1] + 1) * down)), height),
            )
        )
        sizes.append(int(texels[at]))
    return tuple(boxes), tuple(sizes)
