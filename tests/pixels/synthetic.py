"""Layouts and paintings whose truth is known, drawn without anything the detectors use.

Polygons are filled by the crossing-number rule at texel centres, distances come from SciPy's Euclidean transform.
"""

from __future__ import annotations

import numpy as np
from scipy.ndimage import distance_transform_edt

TEXTURES = ("smooth", "noisy", "striped", "panelled", "spectrum")


def filled(polygon, height, width):
    """(H, W) bool: texel centres inside a polygon in texel units, x right, y down (even-odd, half-open in y)."""
    x, y = np.arange(width) + 0.5, np.arange(height) + 0.5
    out = np.zeros((height, width), bool)
    for (x0, y0), (x1, y1) in zip(polygon, np.roll(polygon, -1, axis=0), strict=True):
        rows = np.flatnonzero((y0 <= y) != (y1 <= y))
        crossing = x0 + (y[rows] - y0) * (x1 - x0) / (y1 - y0) if len(rows) else np.zeros(0)
        out[rows] ^= x[None, :] < crossing[:, None]
    return out


def raster(polygons, height, width):
    """(H, W) int32 labels, -1 outside; of two polygons over one texel the first keeps it."""
    labels = np.full((height, width), -1, np.int32)
    for number, polygon in enumerate(polygons):
        labels[filled(polygon, height, width) & (labels < 0)] = number
    return labels


def outline(rng, kind, radius):
    """A polygon about the origin: box, L, blob or sliver."""
    if kind == "box":
        a, b = radius * rng.uniform(0.4, 0.7, 2)
        points = [(-a, -b), (a, -b), (a, b), (-a, b)]
    elif kind == "ell":
        a, b, c = radius * np.array([0.65, rng.uniform(-0.2, 0.2), rng.uniform(-0.2, 0.2)])
        points = [(-a, -a), (a, -a), (a, b), (c, b), (c, a), (-a, a)]
    elif kind == "sliver":
        a, b = radius * 0.85, radius * rng.uniform(0.08, 0.2)
        points = [(-a, -b), (a, -b), (a, b), (-a, b)]
    else:
        angle = np.sort(rng.uniform(0, 2 * np.pi, 9))
        points = np.stack([np.cos(angle), np.sin(angle)], 1) * (radius * rng.uniform(0.55, 0.9, 9))[:, None]
    return np.asarray(points, float)


def layout(rng, height, width, count):
    """`count` or a few more polygons on a loose grid: turned, mirrored, some cut in two that meet along the cut."""
    side = int(np.ceil(np.sqrt(count)))
    cell = np.array([width / side, height / side])
    polygons = []
    for i in range(count):
        centre = (np.array([i % side, i // side]) + 0.5) * cell + rng.uniform(-0.04, 0.04, 2) * cell
        points = outline(rng, rng.choice(["box", "ell", "blob", "sliver"]), cell.min() / 2)
        angle = rng.choice([0.0, np.pi / 2, rng.uniform(0, 2 * np.pi)])
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        points = points @ turn.T
        if rng.random() < 0.3:
            points = points * [-1, 1]
        halves = _cut(points, rng) if rng.random() < 0.25 else [points]
        polygons += [half + centre for half in halves]
    return polygons


def _cut(points, rng):
    """Two polygons that meet along a straight line through the origin, by clipping."""
    angle = rng.uniform(0, np.pi)
    normal = np.array([np.cos(angle), np.sin(angle)])
    halves = []
    for sign in (1, -1):
        kept = []
        for a, b in zip(points, np.roll(points, -1, axis=0), strict=True):
            da, db = sign * (a @ normal), sign * (b @ normal)
            if da >= 0:
                kept.append(a)
            if da * db < 0:
                kept.append(a + (b - a) * da / (da - db))
        if len(kept) >= 3:
            halves.append(np.array(kept))
    return halves


def texture(kind, rng, height, width, low=20, high=255):
    """(H, W, 3) uint8 picture with codes from low to high."""
    y, x = np.mgrid[:height, :width].astype(float)
    value = np.zeros((height, width, 3))
    for c in range(3):
        if kind == "smooth":
            for _ in range(3):
                fx, fy, p = rng.uniform(-3, 3), rng.uniform(-3, 3), rng.uniform(0, 6)
                value[..., c] += np.sin(2 * np.pi * (fx * x / width + fy * y / height) + p)
        elif kind == "noisy":
            value[..., c] = rng.random((height, width))
        elif kind == "striped":
            value[..., c] = np.floor((x * rng.uniform(-1, 1) + y * rng.uniform(0.2, 1)) / rng.uniform(3, 12)) % 4
        elif kind == "panelled":
            panels = rng.random((int(rng.integers(6, 14)), int(rng.integers(6, 14))))
            value[..., c] = panels[
                (y * panels.shape[0] // height).astype(int), (x * panels.shape[1] // width).astype(int)
            ]
        elif kind == "spectrum":
            f = np.hypot(np.fft.fftfreq(height)[:, None], np.fft.rfftfreq(width)[None])
            f[0, 0] = 1
            phase = np.exp(2j * np.pi * rng.random(f.shape))
            value[..., c] = np.fft.irfft2(phase / f, s=(height, width))
        else:
            raise ValueError(kind)
    value -= value.min(axis=(0, 1))
    value /= np.maximum(value.max(axis=(0, 1)), 1e-9)
    return np.rint(low + value * (high - low)).astype(np.uint8)


def distances(labels, islands):
    """(islands, H, W) squared distance to each island, whole numbers; a great number for an island without texels."""
    out = np.full((islands, *labels.shape), 10**9, np.int64)
    for i in range(islands):
        if (labels == i).any():
            out[i] = np.rint(distance_transform_edt(labels != i) ** 2)
    return out


def true_bands(labels, islands, depth):
    """Band raster and nearest island by the definition: 0 inside, 1 .. depth, 254 as near to two islands, 255 far."""
    squared = distances(labels, islands)
    order = np.sort(squared, axis=0)
    band = np.ceil(np.sqrt(order[0])).astype(int)
    band[order[0] > depth * depth] = 255
    if islands > 1:
        band[(order[0] == order[1]) & (order[0] <= depth * depth)] = 254
    band[labels >= 0] = 0
    return band, squared.argmin(axis=0)


def true_bleed(painted, labels, islands, depth, share=0.98):
    """Depth of every island by the definition, one island and one d at a time; None where it has no texels."""
    band, nearest = true_bands(labels, islands, depth)
    out = []
    for i in range(islands):
        if not (labels == i).any():
            out.append(None)
            continue
        best = 0
        for d in range(1, depth + 1):
            around = (band >= 1) & (band <= d) & (nearest == i)
            if not around.any() or painted[around].mean() >= share - 1e-12:
                best = d
        out.append(best)
    return out


def wilson(hits, tries):
    """95 % confidence interval of a share (E. B. Wilson, JASA 22(158), 1927)."""
    if not tries:
        return 0.0, 1.0
    z, p = 1.959964, hits / tries
    middle = (p + z * z / (2 * tries)) / (1 + z * z / tries)
    half = z * np.sqrt(p * (1 - p) / tries + z * z / (4 * tries * tries)) / (1 + z * z / tries)
    return max(0.0, middle - half), min(1.0, middle + half)
