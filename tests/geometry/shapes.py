"""Small meshes made from numbers, for the tests of geometry."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tidegate.geometry.corners import corner_columns
from tidegate.geometry.edges import edge_mates
from tidegate.geometry.islands import label_islands
from tidegate.geometry.weld import corner_ids


class Sheet(NamedTuple):
    """positions (n, 3), triangles (m, 3), uv (k, 2), uv_triangles (m, 3)."""

    positions: NDArray[np.float64]
    triangles: NDArray[np.int32]
    uv: NDArray[np.float64]
    uv_triangles: NDArray[np.int32]

    def corners(self) -> NDArray[np.int32]:
        return corner_ids(*self)[0]

    def mates(self) -> NDArray[np.int32]:
        return edge_mates(self.corners())

    def labels(self) -> tuple[NDArray[np.int32], int]:
        return label_islands(self.corners())

    def uv_columns(self) -> NDArray[np.float64]:
        return corner_columns(self.uv, self.uv_triangles)

    def xyz_columns(self) -> NDArray[np.float64]:
        return corner_columns(self.positions, self.triangles)


def grid(columns: int, rows: int, uv_at: tuple[float, float] = (0.0, 0.0), uv_size: float = 1.0) -> Sheet:
    """A flat sheet in the XY plane facing +Z, one metre a cell, laid upright into the tile; its widest side is uv_size."""
    x, y = np.meshgrid(np.arange(columns + 1.0), np.arange(rows + 1.0))
    points = np.stack([x.ravel(), y.ravel(), np.zeros(x.size)], axis=1)
    uv = points[:, :2] / max(columns, rows) * uv_size + np.array(uv_at)
    start = (np.arange(rows)[:, None] * (columns + 1) + np.arange(columns)[None, :]).ravel()
    right, above, across = start + 1, start + columns + 1, start + columns + 2
    triangles = np.stack([start, right, across, start, across, above], axis=1).reshape(-1, 3).astype(np.int32)
    return Sheet(points, triangles, uv, triangles.copy())


def together(*sheets: Sheet) -> Sheet:
    """Several sheets as one, with index arrays of its own for positions and UVs."""
    place, spot = 0, 0
    triangles, uv_triangles = [], []
    for sheet in sheets:
        triangles.append(sheet.triangles + place)
        uv_triangles.append(np.where(sheet.uv_triangles < 0, -1, sheet.uv_triangles + spot))
        place += len(sheet.positions)
        spot += len(sheet.uv)
    return Sheet(
        np.concatenate([sheet.positions for sheet in sheets]),
        np.concatenate(triangles).astype(np.int32),
        np.concatenate([sheet.uv for sheet in sheets]),
        np.concatenate(uv_triangles).astype(np.int32),
    )


def split_apart(sheet: Sheet, which: NDArray[np.int64] | None = None) -> Sheet:
    """The same sheet with a vertex of its own at every corner of the named triangles (all when None)."""
    chosen = np.arange(len(sheet.triangles)) if which is None else which
    triangles, uv_triangles = sheet.triangles.copy(), sheet.uv_triangles.copy()
    positions, uv = [sheet.positions], [sheet.uv]
    count, spots = len(sheet.positions), len(sheet.uv)
    fresh = np.arange(3 * len(chosen), dtype=np.int32).reshape(-1, 3)
    positions.append(sheet.positions[triangles[chosen]].reshape(-1, 3))
    triangles[chosen] = fresh + count
    painted = uv_triangles[chosen, 0] >= 0
    uv.append(sheet.uv[np.maximum(uv_triangles[chosen], 0)].reshape(-1, 2))
    uv_triangles[chosen[painted]] = fresh[painted] + spots
    return Sheet(np.concatenate(positions), triangles, np.concatenate(uv), uv_triangles)


def renumbered(sheet: Sheet, seed: int) -> tuple[Sheet, NDArray[np.int64]]:
    """The same sheet with vertices and triangles in another order, and that order of the triangles."""
    rng = np.random.default_rng(seed)
    place, spot = rng.permutation(len(sheet.positions)), rng.permutation(len(sheet.uv))
    order = rng.permutation(len(sheet.triangles))
    place_of, spot_of = np.argsort(place), np.argsort(spot)
    turn = rng.integers(0, 3, len(order))
    corner = (np.arange(3)[None, :] + turn[:, None]) % 3
    triangles = np.take_along_axis(sheet.triangles[order], corner, axis=1)
    uv_triangles = np.take_along_axis(sheet.uv_triangles[order], corner, axis=1)
    return (
        Sheet(
            sheet.positions[place],
            place_of[triangles].astype(np.int32),
            sheet.uv[spot],
            np.where(uv_triangles < 0, -1, spot_of[np.maximum(uv_triangles, 0)]).astype(np.int32),
        ),
        order,
    )


def box(size: float = 1.0) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """A closed cube around the origin, fronts outwards: positions (8, 3), triangles (12, 3)."""
    half = size / 2.0
    points = np.array([[x, y, z] for z in (-half, half) for y in (-half, half) for x in (-half, half)])
    quads = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
    triangles = [t for a, b, c, d in quads for t in ((a, b, c), (a, c, d))]
    return points, np.array(triangles, np.int32)


def random_sheet(rng: np.random.Generator, triangles: int) -> Sheet:
    """Triangles strewn over few positions and UVs: crowded edges, bow ties, collapsed corners, triangles without UVs."""
    points = np.round(rng.random((max(4, triangles // 3), 3)), 1)
    uv = np.round(rng.random((max(4, triangles // 3), 2)), 1)
    faces = rng.integers(0, len(points), (triangles, 3)).astype(np.int32)
    spots = np.where(rng.random(triangles)[:, None] < 0.8, faces, rng.integers(0, len(uv), (triangles, 3)))
    spots[rng.random(triangles) < 0.1] = -1
    return Sheet(points, faces, uv, spots.astype(np.int32))
