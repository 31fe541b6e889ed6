"""4 x 4 matrices as tuples of rows, and arrays of points turned by them.

Written out in single additions and multiplications in a fixed order, not as a call into a linear algebra library:
those pick other orders on other machines, and the same file must give the same bytes everywhere.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Row = tuple[float, float, float, float]
Matrix = tuple[Row, Row, Row, Row]

_BLOCK = 8192

IDENTITY: Matrix = ((1.0, 0.0, 0.0, 0.0), (0.0, 1.0, 0.0, 0.0), (0.0, 0.0, 1.0, 0.0), (0.0, 0.0, 0.0, 1.0))


def from_columns(values: tuple[float, ...]) -> Matrix:
    """Sixteen numbers, column after column."""
    rows = [(values[i], values[4 + i], values[8 + i], values[12 + i]) for i in range(4)]
    return rows[0], rows[1], rows[2], rows[3]


def from_parts(translation: tuple[float, ...], rotation: tuple[float, ...], scale: tuple[float, ...]) -> Matrix:
    """Translation times rotation (unit quaternion x y z w) times scale: a point is scaled first."""
    x, y, z, w = rotation
    sx, sy, sz = scale
    tx, ty, tz = translation
    return (
        ((1 - 2 * (y * y + z * z)) * sx, 2 * (x * y - z * w) * sy, 2 * (x * z + y * w) * sz, tx),
        (2 * (x * y + z * w) * sx, (1 - 2 * (x * x + z * z)) * sy, 2 * (y * z - x * w) * sz, ty),
        (2 * (x * z - y * w) * sx, 2 * (y * z + x * w) * sy, (1 - 2 * (x * x + y * y)) * sz, tz),
        (0.0, 0.0, 0.0, 1.0),
    )


def product(a: Matrix, b: Matrix) -> Matrix:
    """a times b for matrices whose last row is 0 0 0 1: b is applied first."""
    rows = [
        (
            r[0] * b[0][0] + r[1] * b[1][0] + r[2] * b[2][0],
            r[0] * b[0][1] + r[1] * b[1][1] + r[2] * b[2][1],
            r[0] * b[0][2] + r[1] * b[1][2] + r[2] * b[2][2],
            r[0] * b[0][3] + r[1] * b[1][3] + r[2] * b[2][3] + r[3],
        )
        for r in a[:3]
    ]
    return rows[0], rows[1], rows[2], IDENTITY[3]


def determinant(m: Matrix) -> float:
    """Of the upper left 3 x 3."""
    (a, b, c, _), (d, e, f, _), (g, h, i, _), _ = m
    return a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g)


def normal_matrix(m: Matrix) -> Matrix:
    """Transposed inverse of the upper left 3 x 3, which turns normals. Raises ZeroDivisionError for a flat matrix."""
    (a, b, c, _), (d, e, f, _), (g, h, i, _), _ = m
    det = determinant(m)
    return (
        ((e * i - f * h) / det, (f * g - d * i) / det, (d * h - e * g) / det, 0.0),
        ((c * h - b * i) / det, (a * i - c * g) / det, (b * g - a * h) / det, 0.0),
        ((b * f - c * e) / det, (c * d - a * f) / det, (a * e - b * d) / det, 0.0),
        IDENTITY[3],
    )


def turned_points(m: Matrix, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, 3) points with the matrix applied, translation included."""
    turned = np.empty_like(points)
    with np.errstate(invalid="ignore", over="ignore"):  # what is not finite stays so, and is told by the reader
        for block in _blocks(points):
            columns = np.ascontiguousarray(points[block].T)
            for axis in range(3):
                turned[block, axis] = _row(m[axis], columns)
    return turned


def turned_directions(m: Matrix, directions: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, 3) directions with the upper left 3 x 3 applied, each as long as it was before."""
    scale = _even_scale(m)
    if scale:  # most nodes turn and scale evenly; then one factor serves all lengths
        (a, b, c, _), (d, e, f, _), (g, h, i, _), last = m
        k = 1.0 / scale
        even = ((a * k, b * k, c * k, 0.0), (d * k, e * k, f * k, 0.0), (g * k, h * k, i * k, 0.0), last)
        return turned_points(even, directions)
    turned = np.empty_like(directions)
    with np.errstate(invalid="ignore", over="ignore", divide="ignore"):
        for block in _blocks(directions):
            columns = np.ascontiguousarray(directions[block].T)
            rows = np.stack([_row((*m[axis][:3], 0.0), columns) for axis in range(3)])
            stretch = _lengths(columns) / _lengths(rows)
            stretch[~np.isfinite(stretch)] = 1.0
            np.multiply(rows, stretch, out=turned[block].T)
    return turned


def _even_scale(m: Matrix) -> float:
    """The factor of a matrix that turns (or mirrors) and scales alike along all axes; 0 for any other."""
    axes = [(m[0][i], m[1][i], m[2][i]) for i in range(3)]
    squares = [x * x + y * y + z * z for x, y, z in axes]
    slack = 1e-12 * squares[0]
    if abs(squares[1] - squares[0]) > slack or abs(squares[2] - squares[0]) > slack:
        return 0.0
    for one, other in ((0, 1), (0, 2), (1, 2)):
        if abs(sum(p * q for p, q in zip(axes[one], axes[other], strict=True))) > slack:
            return 0.0
    return math.sqrt(squares[0]) if math.isfinite(squares[0]) else 0.0


def _blocks(points: NDArray[np.float64]) -> list[slice]:
    """Runs of rows small enough that the steps on them stay in the processor's cache: 3 times faster at a million."""
    return [slice(start, start + _BLOCK) for start in range(0, len(points), _BLOCK)]


def _row(row: Row, columns: NDArray[np.float64]) -> NDArray[np.float64]:
    """One coordinate of the result. Factors of 0 and 1 are most of all matrices, so they are left out."""
    total: NDArray[np.float64] | None = None
    for factor, column in zip(row[:3], columns, strict=True):
        if factor == 0.0:
            continue
        term = column if factor == 1.0 else column * factor
        total = term if total is None else total + term
    if total is None:
        return np.full(columns.shape[1], row[3])
    return total + row[3] if row[3] else total


def _lengths(vectors: NDArray[np.float64]) -> NDArray[np.float64]:
    """Of (3, n) vectors."""
    x, y, z = vectors
    lengths: NDArray[np.float64] = np.sqrt(x * x + y * y + z * z)
    return lengths
