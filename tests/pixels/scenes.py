"""Whole scenes with a known fault, one function a detector, for the tests and for `python -m tests.pixels.truth`."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import distance_transform_edt, zoom

from tests.pixels.synthetic import TEXTURES, layout, raster, texture
from tidegate.pixels.border_bands import border_bands
from tidegate.pixels.seam_points import SeamEdges


@dataclass
class Painted:
    """A painted layout: what a right export of it looks like."""

    labels: np.ndarray
    islands: int
    distance: np.ndarray
    image: np.ndarray
    bleed: int
    ground: tuple[int, int, int]
    kind: str

    def bands(self, depth):
        return border_bands(self.labels, self.islands, depth)


def painted(rng, least_bleed=0, most_bleed=13, kind=None, count=None, size=None, square=False):
    height, width = size or (int(rng.integers(110, 190)), int(rng.integers(110, 190)))
    if square:
        width = height
    polygons = layout(rng, height, width, count or int(rng.integers(2, 9)))
    labels = raster(polygons, height, width)
    distance = distance_transform_edt(labels < 0)
    kind = kind or str(rng.choice(TEXTURES))
    image = texture(kind, rng, height, width, low=20, high=235)
    bleed = int(rng.integers(least_bleed, most_bleed))
    ground = tuple(int(v) for v in rng.choice([0, 5, 250, 255], 3))
    image[distance > bleed] = ground
    return Painted(labels, len(polygons), distance, image, bleed, ground, kind)


def filled_up(rng, how):
    """A clean prop without a ground: paint carried on for ever ("carried", "flat": one colour an island), or over the whole
    tile before the islands were cut from it ("canvas").
    """
    scene = painted(rng)
    height, width = scene.labels.shape
    image = texture(scene.kind, rng, height, width, low=20, high=235)
    if how == "flat":
        tones = rng.integers(0, 256, (4, 3))
        image = tones[rng.integers(0, 4, scene.islands)][scene.labels].astype(np.uint8)
    if how in ("carried", "flat"):
        _, (y, x) = distance_transform_edt(scene.labels < 0, return_indices=True)
        image = image[y, x]
    scene.image = image
    return scene


def field(rng, kind):
    """A picture defined on the whole plane, so that it can be read at any point: surface point (n, 2) -> (n, 3) 0 .. 1."""
    if kind == "spectrum":
        waves = [(2 * np.pi * rng.normal(0, 0.02 * 2**o, 2), rng.uniform(0, 6, 3), 0.5**o) for o in range(4)]
        return lambda p: 0.5 + 0.22 * sum(a * np.sin((p @ w)[:, None] + q) for w, q, a in waves)
    if kind == "striped":
        w, wide = rng.normal(size=2), rng.uniform(14, 30)
        tones = rng.uniform(0.1, 0.9, (4, 3))
        w /= np.linalg.norm(w)
        start = rng.uniform(0, 100)
        return lambda p: tones[np.floor(p @ w / wide + start).astype(int) % 4]
    if kind == "panelled":
        tones, wide = rng.uniform(0.1, 0.9, (7, 5, 3)), rng.uniform(18, 40)
        sx, sy = rng.uniform(0.15, 0.85, 2)  # no panel ends on the seam itself
        return lambda p: tones[
            np.floor(p[:, 0] / wide + sx).astype(int) % 7, np.floor(p[:, 1] / wide + sy).astype(int) % 5
        ]
    if kind == "noisy":
        grid = rng.uniform(0.1, 0.9, (64, 64, 3))

        def noisy(p):
            q = p / 2.5
            i = np.floor(q).astype(int)
            f = (q - i)[:, :, None]
            at = [grid[(i[:, 0] + a) % 64, (i[:, 1] + b) % 64] for a in (0, 1) for b in (0, 1)]
            low, high = at[0] * (1 - f[:, 1]) + at[1] * f[:, 1], at[2] * (1 - f[:, 1]) + at[3] * f[:, 1]
            return low * (1 - f[:, 0]) + high * f[:, 0]

        return noisy
    w = 2 * np.pi * rng.normal(0, 0.008, (3, 2))
    q = rng.uniform(0, 6, 3)
    return lambda p: 0.5 + 0.4 * np.sin(p @ w.T + q)


@dataclass
class SeamScene:
    """Two square islands that meet on the surface along x = 0; the second may lie turned and mirrored in the tile."""

    image: np.ndarray
    labels: np.ndarray
    edges: SeamEdges


def seam_scene(rng, kind, colour=lambda p, side: None, normals=False, step=0.0, shift=0.0, edges=8, relief=8):
    """Surface: island A is [-40, 0] x [0, 60], island B is [0, 40] x [0, 60], in texels. Each is painted by reading the field at
    the surface point of every texel, bleed included; B's reading is displaced by `shift` along the seam and lightened by `step`.
    relief: height in texels of the bumps that normals are made from.
    """
    height, width = 96, 192
    picture = field(rng, kind) if not normals else None
    bumps = field(rng, "spectrum" if kind == "noisy" else "smooth")
    angle = rng.choice([0, np.pi / 2, np.pi, -np.pi / 2, rng.uniform(0, 6.28)])
    mirror = rng.choice([1, -1])
    place = {
        0: (np.eye(2), np.array([48.0 + 20, 48 - 30])),
        1: (None, None),
    }
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]) @ np.diag([mirror, 1.0])
    place[1] = (turn, np.array([144.0, 48.0]) - turn @ [20.0, 30.0])
    y, x = np.mgrid[:height, :width] + 0.5
    texels = np.stack([x, y], axis=-1).reshape(-1, 2)
    image = np.zeros((height * width, 3))
    labels = np.full(height * width, -1, np.int32)
    for side, (matrix, offset) in place.items():
        here = texels[:, 0] < 96 if side == 0 else texels[:, 0] >= 96
        surface = (texels[here] - offset) @ np.linalg.inv(matrix).T
        low, high = (-40, 0) if side == 0 else (0, 40)
        inside = (surface[:, 0] >= low) & (surface[:, 0] < high) & (surface[:, 1] >= 0) & (surface[:, 1] < 60)
        read = surface + ([0, shift] if side else [0, 0])
        if normals:
            e = 0.01
            slope = np.stack([(bumps(read + d)[:, 0] - bumps(read - d)[:, 0]) / (2 * e) for d in np.eye(2) * e], axis=1)
            n = np.concatenate([-slope * relief, np.ones((len(read), 1))], axis=1)
            n /= np.linalg.norm(n, axis=1, keepdims=True)
            flat = n[:, :2] @ matrix.T  # surface directions into tile directions, y down
            value = np.stack([flat[:, 0], -flat[:, 1], n[:, 2]], axis=1) / 2 + 0.5  # green up
        else:
            value = picture(read)
        image[here] = value + (step if side else 0)
        part = labels[here]
        part[inside] = side
        labels[here] = part
    ends = np.linspace(0, 60, edges + 1)
    seam = np.stack([np.stack([np.zeros(edges), ends[:-1]], 1), np.stack([np.zeros(edges), ends[1:]], 1)], 1)

    def uv(surface, side):
        matrix, offset = place[side]
        t = surface @ matrix.T + offset
        return np.stack([t[..., 0] / width, 1 - t[..., 1] / height], axis=-1)

    middle = seam.mean(axis=1)
    scene_edges = SeamEdges(
        uv(seam, 0),
        uv(seam, 1),
        uv(middle - np.array([10, 0]), 0),
        uv(middle + np.array([10, 0]), 1),
        np.zeros(edges, np.int32),
        np.ones(edges, np.int32),
    )
    stored = np.rint(np.clip(image, 0, 1) * 255).astype(np.uint8).reshape(height, width, 3)
    return SeamScene(stored, labels.reshape(height, width), scene_edges)


def halved(image):
    """Half the size by box mean, by SciPy where the sides are odd."""
    if image.shape[0] % 2 or image.shape[1] % 2:
        return np.clip(np.rint(zoom(image.astype(float), (0.5, 0.5, 1), order=1)), 0, 255).astype(np.uint8)
    h, w = image.shape[0] // 2, image.shape[1] // 2
    return np.rint(image.reshape(h, 2, w, 2, -1).mean(axis=(1, 3))).astype(np.uint8)
