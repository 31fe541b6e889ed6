"""Walk an image in strips of rows, so that temporaries stay in the processor's cache and never reach map size."""

from __future__ import annotations

from collections.abc import Iterator

STRIP_TEXELS = 1 << 17


def strips(height: int, width: int, texels: int = STRIP_TEXELS) -> Iterator[tuple[int, int]]:
    """(first row, row after the last) of each strip of about `texels` texels, from the top."""
    rows = max(1, texels // max(1, width))
    for top in range(0, height, rows):
        yield top, min(height, top + rows)
