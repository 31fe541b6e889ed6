"""Writes a layered master: OpenRaster, a ground and a paint layer, and their merged picture."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from .paint import GROUND

LONG_AGO = (1980, 1, 1, 0, 0, 0)  # the earliest time a zip can hold: the same bytes whenever it is made


def write_master(path: Path, flat: NDArray[np.uint8]) -> None:
    """flat: (h, w, 3) uint8; what differs from the ground becomes the paint layer."""
    height, width = flat.shape[:2]
    painted = (flat != np.array(GROUND, np.uint8)).any(axis=2)
    paint = np.dstack([np.where(painted[..., None], flat, 0), np.where(painted, 255, 0)]).astype(np.uint8)
    ground = np.empty_like(flat)
    ground[:] = GROUND
    stack = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<image version="0.0.3" w="{width}" h="{height}"><stack>'
        '<layer name="paint" src="data/paint.png" x="0" y="0"/>'
        '<layer name="ground" src="data/ground.png" x="0" y="0"/>'
        "</stack></image>\n"
    )
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in (
            ("mimetype", b"image/openraster"),
            ("stack.xml", stack.encode()),
            ("data/paint.png", _png(paint)),
            ("data/ground.png", _png(ground)),
            ("mergedimage.png", _png(flat)),
            ("Thumbnails/thumbnail.png", _png(flat[:: max(1, height // 128), :: max(1, width // 128)])),
        ):
            archive.writestr(zipfile.ZipInfo(name, LONG_AGO), data)


def _png(pixels: NDArray[np.uint8]) -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(pixels).save(buffer, "PNG")
    return buffer.getvalue()
