"""Vertex tangents under a normal map: glTF 2.0, 3.7.2.1.

bitangent = cross(normal, tangent.xyz) * tangent.w with w +1 or -1. In that frame the bitangent points the way V grows in
the picture's own sense (up), so w is +1 on a surface laid out as it is and -1 on one laid out mirrored.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .normals import normal_lengths, not_unit, zero_normals


def bad_signs(tangents: NDArray[np.float64]) -> NDArray[np.bool_]:
    """(n,) whether w of a tangent (n, 4) is neither +1 nor -1."""
    bad: NDArray[np.bool_] = np.abs(tangents[:, 3]) != 1.0
    return bad


def zero_tangents(tangents: NDArray[np.float64]) -> NDArray[np.bool_]:
    """(n,) whether xyz of a tangent (n, 4) has no direction: zero length, or not finite."""
    return zero_normals(normal_lengths(tangents[:, :3]))


def not_unit_tangents(tangents: NDArray[np.float64], tolerance: float = 0.0005) -> NDArray[np.bool_]:
    """(n,) whether xyz of a tangent that has a direction is not 1 long within the tolerance."""
    return not_unit(normal_lengths(tangents[:, :3]), tolerance)


def wrong_handed(
    tangents: NDArray[np.float64],
    triangles: NDArray[np.int32],
    signed: NDArray[np.float64],
    flat: NDArray[np.bool_],
) -> NDArray[np.bool_]:
    """(m,) whether a corner's w contradicts the winding of the triangle's UVs.

    tangents: (n, 4), triangles: (m, 3) into them; signed: (m,) UV areas with V up of triangles that are counter-clockwise
    from their front; flat: (m,) triangles whose UVs have no winding, which are never wrong.
    """
    wanted = np.sign(signed)
    wrong = np.zeros(len(triangles), np.bool_)
    for corner in range(3):
        wrong |= np.sign(tangents[triangles[:, corner], 3]) != wanted
    wrong &= ~flat & (wanted != 0.0)
    return wrong


def mixed_signs(tangents: NDArray[np.float64], triangles: NDArray[np.int32]) -> NDArray[np.bool_]:
    """(m,) whether the corners of one triangle disagree in w, which glTF 2.0, 3.7.2.1 advises against."""
    w = np.sign(tangents[:, 3])[triangles]
    mixed: NDArray[np.bool_] = (w[:, 0] != w[:, 1]) | (w[:, 1] != w[:, 2])
    return mixed
