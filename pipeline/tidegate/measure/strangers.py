"""Layouts that a map may be meant for in place of its own: other materials of the prop, other props of its drop, and the
version delivered before. They are laid out only when a map does not fit, and small: where islands lie is all that is asked."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from typing import Any

from tidegate.measure.islands import LaidOut, measure_islands
from tidegate.measure.painted_layout import PaintedLayout
from tidegate.measure.pictures import pictures_of
from tidegate.model.facts import IslandColumns, Picture
from tidegate.model.prop import Prop
from tidegate.pixels.border_bands import BorderBands

SIDE = 512  # texels of the longer side at which they are laid out
MOST = 24  # layouts tried

Others = Callable[[], Iterable[tuple[str, Prop]]]
"""Gives (name as a report calls it, prop), asked for only when needed."""


class Strangers:
    """columns, pictures, layouts: of the prop itself. others: further props, None for none."""

    def __init__(
        self,
        columns: IslandColumns,
        pictures: Sequence[Picture],
        layouts: Sequence[LaidOut],
        others: Others | None,
        settings: Mapping[str, Any],
    ) -> None:
        self._own = columns, pictures, layouts
        self._others, self._settings = others, settings
        self._bands: dict[tuple[int, int], list[tuple[int, str, BorderBands]]] = {}

    def bands(self, numbers: Collection[int], size: tuple[int, int]) -> dict[str, BorderBands]:
        """Layouts by name, in a map's shape. numbers: the pictures that the map lies on by right, which are left out.
        size: width, height of the map."""
        scale = min(1.0, SIDE / max(size))
        small = max(1, round(size[0] * scale)), max(1, round(size[1] * scale))
        if small not in self._bands:
            self._bands[small] = list(self._drawn(small))
        return {name: bands for number, name, bands in self._bands[small] if number not in numbers}

    def _drawn(self, size: tuple[int, int]) -> Iterator[tuple[int, str, BorderBands]]:
        """The number is that of a picture of the prop, -1 for those of other props."""
        left = MOST
        for name, columns, pictures, layouts in self._all():
            for number, picture in enumerate(pictures):
                if picture.palette or picture.bare or picture.role != "model":
                    continue
                layout = PaintedLayout(columns, picture, layouts, size, 0)
                if not layout.whole or not (layout.labels >= 0).any():
                    continue
                shown = f"{picture.key} of {name or 'this prop'}" if len(pictures) > 1 or not name else name
                yield (-1 if name else number), shown, layout.bands
                left -= 1
                if not left:
                    return  # and measure no further prop

    def _all(self) -> Iterator[tuple[str, IslandColumns, Sequence[Picture], Sequence[LaidOut]]]:
        yield ("", *self._own)
        for name, prop in self._others() if self._others is not None else ():
            parts, columns, layouts = measure_islands(prop, self._settings, upright=False)
            yield name, columns, pictures_of(parts, columns, layouts), layouts
