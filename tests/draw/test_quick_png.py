"""The quick encoder, read back by Pillow."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from tidegate.draw import quick_png as module
from tidegate.draw.quick_png import quick_png


@pytest.mark.parametrize(("channels", "mode"), [(1, "L"), (2, "LA"), (3, "RGB"), (4, "RGBA")])
@pytest.mark.parametrize("band", [64, 1 << 22])
def test_pixels_come_back(monkeypatch: pytest.MonkeyPatch, channels: int, mode: str, band: int) -> None:
    monkeypatch.setattr(module, "_BAND_BYTES", band)
    picture = np.random.default_rng(channels).integers(0, 256, (37, 19, channels), dtype=np.uint8)
    read = Image.open(io.BytesIO(quick_png(picture)))
    read.load()  # checks every sum of the file
    assert (read.format, read.mode, read.size) == ("PNG", mode, (19, 37))
    assert np.array_equal(np.asarray(read).reshape(picture.shape), picture)


def test_the_same_bytes_whatever_the_threads(monkeypatch: pytest.MonkeyPatch) -> None:
    picture = np.random.default_rng(0).integers(0, 3, (400, 100, 3), dtype=np.uint8)
    monkeypatch.setattr(module, "_BAND_BYTES", 4000)
    first = quick_png(picture)
    monkeypatch.setattr(module, "_THREADS", 1)
    assert quick_png(picture) == first
