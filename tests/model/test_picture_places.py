"""Boxes kept inside a PNG, and files that hold none."""

from __future__ import annotations

import pytest
from PIL import Image

from tidegate.draw.canvas import png_bytes
from tidegate.model.picture_places import places_in, png_size

PLACES = {"": (0, 0, 40, 30), "A": (1, 2, 3, 4), "AB": (5, 6, 7, 8)}


def test_they_come_back_in_their_order() -> None:
    data = png_bytes(Image.new("RGB", (40, 30)), places=PLACES)
    assert list(places_in(data).items()) == list(PLACES.items())
    assert png_size(data) == (40, 30)


@pytest.mark.parametrize("data", [b"", b"GIF89a", b"\x89PNG\r\n\x1a\n", png_bytes(Image.new("L", (2, 2)))])
def test_a_file_without_any_has_none(data: bytes) -> None:
    assert places_in(data) == {}
    assert png_size(data) in ((0, 0), (2, 2))


def test_a_file_cut_off_anywhere_breaks_nothing() -> None:
    data = png_bytes(Image.new("RGB", (40, 30)), places=PLACES)
    for end in range(len(data)):
        try:
            found = places_in(data[:end])
        except ValueError:
            continue
        assert found in ({}, PLACES)
