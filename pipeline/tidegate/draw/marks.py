"""Which findings lie on a picture, and where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tidegate.draw.hatch import KINDS
from tidegate.draw.palette import MARKS, Color
from tidegate.draw.placed import Placed
from tidegate.model.facts import Facts, Layout, Picture
from tidegate.model.finding import Finding
from tidegate.model.letters import letters
from tidegate.model.selection import tile_corner
from tidegate.model.view import Box


@dataclass(frozen=True, slots=True, eq=False)
class Mark:
    """A finding on one picture. rows: islands it names there. boxes: UV boxes it names instead. points: UV places.

    A finding about the map as a whole has the box of the tile. whole: it names almost every island while others name
    some, so it leaves their hatches to those. around: UV boxes that get a ring where they are drawn small. faces: runs of
    triangles, by part, that are hatched in place of its islands.
    """

    finding: Finding
    letter: str
    color: Color
    hatch: str
    rows: NDArray[np.int64]
    boxes: tuple[Box, ...] = ()
    points: tuple[tuple[float, float], ...] = ()
    whole: bool = False
    around: tuple[Box, ...] = ()
    faces: tuple[tuple[int, int, int], ...] = ()

    def faces_in(self, placed: Placed) -> NDArray[np.bool_]:
        """Which of the placed triangles are its faces."""
        found = np.zeros(len(placed.row), np.bool_)
        start = 0
        for layout, here in placed.pieces:
            found[start : start + len(here)] = self._faces_of(layout)[here]
            start += len(here)
        return found

    def _faces_of(self, layout: Layout) -> NDArray[np.bool_]:
        """Which triangles of a layout are its faces."""
        runs = np.array([(first, stop) for part, first, stop in self.faces if part == layout.part], np.int64)
        steps = np.zeros(len(layout.island) + 1, np.int64)
        np.add.at(steps, runs.reshape(-1, 2)[:, 0], 1)
        np.add.at(steps, runs.reshape(-1, 2)[:, 1], -1)
        return np.asarray(steps.cumsum()[:-1] > 0)

    def face_boxes(self, placed: Placed) -> list[Box]:
        """The pixel boxes of its faces, one an island."""
        if not self.faces:
            return []
        mine = self.faces_in(placed)
        pixels, rows = placed.pixels[:, :, mine], placed.row[mine]
        found: list[Box] = []
        for row in self.rows[:_MOST_BOXES].tolist():
            own = pixels[:, :, rows == row]
            if own.shape[2]:
                (x0, y0), (x1, y1) = own.min(axis=(0, 2)), own.max(axis=(0, 2))
                found.append((float(x0), float(y0), float(x1), float(y1)))
        return found


def marks_on(facts: Facts, picture: Picture, findings: Sequence[Finding]) -> list[Mark]:
    """Marks of all findings that lie on this picture, in their order."""
    marks = [
        mark for number, finding in enumerate(findings) if (mark := _mark(facts, picture, number, finding)) is not None
    ]
    if len(marks) < 2 or len(picture.islands) < _FEW:
        return marks
    most = _ALMOST_ALL * len(picture.islands)
    return [replace(mark, whole=True) if len(mark.rows) >= most and not mark.points else mark for mark in marks]


_MOST_BOXES = 60  # islands whose faces are looked at one by one
_FEW = 4  # islands up to which each is marked, whatever else there is
_ALMOST_ALL = 0.8  # share of the islands of a picture


def style_of(number: int) -> tuple[Color, str]:
    """Color and hatch of finding `number`: no two of 42 that follow each other share both."""
    return MARKS[number % len(MARKS)], KINDS[number % len(KINDS)]


def letter_of(number: int, finding: Finding) -> str:
    """The letter the finding was given, or that of its place in the list."""
    return finding.letter or letters(number)


def _mark(facts: Facts, picture: Picture, number: int, finding: Finding) -> Mark | None:
    place = finding.place
    color, hatch = style_of(number)
    letter = letter_of(number, finding)
    if place.islands:
        named = np.array(sorted(set(place.islands)), dtype=np.int64) - 1
        rows = named[np.isin(named, picture.islands)]
        if not len(rows):
            return None
        # One texel that is named says more than the box about all that is like it.
        boxes = _pixel_boxes(facts, picture, finding) if finding.shown.texel is None else ()
        around = (*finding.shown.around, *_texel_box(facts, picture, finding))
        return Mark(finding, letter, color, hatch, rows, boxes, finding.shown.spots, around=around)
    if finding.shown.faces:
        rows = _of_faces(facts, picture, finding)
        if len(rows):
            return Mark(finding, letter, color, hatch, rows, faces=finding.shown.faces)
    nothing = np.zeros(0, np.int64)
    own_map = bool(place.map) and place.map in {file for _, file in picture.files}
    if place.pixel_box is not None and own_map:
        return Mark(finding, letter, color, hatch, nothing, _pixel_boxes(facts, picture, finding))
    if place.point is not None:
        points = _unfolded(facts, picture, finding)
        return Mark(finding, letter, color, hatch, nothing, (), points) if points else None
    if place.uv_box is not None and place.uv_layer == picture.uv_layer and place.tile in (None, picture.tile):
        if place.role in ("", picture.role):
            return Mark(finding, letter, color, hatch, nothing, (place.uv_box,))
        return None
    if place.slot and place.material and place.map not in {texture.path for texture in facts.prop.maps}:
        rows = _of_material(facts, picture, finding)
        return Mark(finding, letter, color, hatch, rows) if len(rows) else None
    if not own_map or picture.role != "model":
        return None
    u, v = tile_corner(picture)
    return Mark(finding, letter, color, hatch, nothing, ((u, v, u + 1, v + 1),))


def _of_material(facts: Facts, picture: Picture, finding: Finding) -> NDArray[np.int64]:
    """Islands of the material that a finding about a map that is not there names: they have nothing on them."""
    columns, place = facts.islands, finding.place
    assert columns is not None
    return np.array(
        [
            row
            for row in picture.islands
            if (part := facts.parts[columns.part[row]]).material == place.material
            and place.file in ("", part.file)
            and place.role in ("", part.role)
        ],
        dtype=np.int64,
    )


def _of_faces(facts: Facts, picture: Picture, finding: Finding) -> NDArray[np.int64]:
    """Islands of the picture that the faces of a finding lie on."""
    found = [np.zeros(0, np.int64)]
    for layout in facts.layouts:
        if layout.uv_layer == picture.uv_layer and layout.part in picture.parts:
            runs = [layout.island[first:stop] for part, first, stop in finding.shown.faces if part == layout.part]
            found += [np.unique(run).astype(np.int64) for run in runs]
    rows = np.unique(np.concatenate(found))
    return rows[np.isin(rows, picture.islands)]


def _texel_box(facts: Facts, picture: Picture, finding: Finding) -> tuple[Box, ...]:
    """The texel that a finding names, as UV box."""
    if finding.shown.texel is None:
        return ()
    x, y = finding.shown.texel
    place = replace(finding.place, pixel_box=(x, y, x + 1, y + 1))
    return _pixel_boxes(facts, picture, replace(finding, place=place))


def _pixel_boxes(facts: Facts, picture: Picture, finding: Finding) -> tuple[Box, ...]:
    """The pixel box of the map as UV box, in the numbers of the tile that the islands lie in."""
    if finding.place.pixel_box is None:
        return ()
    x0, y0, x1, y1 = finding.place.pixel_box
    u, v = tile_corner(picture)
    sizes = {texture.path: (texture.header.width, texture.header.height) for texture in facts.prop.maps}
    wide, high = sizes.get(finding.place.map, (picture.width, picture.height))
    return ((u + x0 / wide, v + 1 - y1 / high, u + x1 / wide, v + 1 - y0 / high),)


def _unfolded(facts: Facts, picture: Picture, finding: Finding) -> tuple[tuple[float, float], ...]:
    """Where a point of the surface lies in the tile: at the nearest corner of the mesh it is on. A point that belongs to no
    mesh, such as the pivot, lies nowhere in it."""
    place = finding.place
    columns = facts.islands
    assert columns is not None and place.point is not None
    if not (place.mesh or place.node) and all(part.mesh or part.node for part in facts.parts):
        return ()
    best: tuple[float, float, float] | None = None
    for layout in facts.layouts:
        part = facts.parts[layout.part]
        if layout.uv_layer != picture.uv_layer or layout.part not in picture.parts:
            continue
        if (place.mesh and place.mesh != part.mesh) or (place.node and place.node != part.node):
            continue
        here = np.flatnonzero(np.isin(layout.island, picture.islands))
        if not len(here):
            continue
        corners = layout.mesh.positions[layout.mesh.triangles[here]]
        away = ((corners - np.array(place.point)) ** 2).sum(axis=2)
        nearest = int(np.argmin(away))
        triangle, corner = here[nearest // 3], nearest % 3
        distance = float(away.reshape(-1)[nearest])
        if best is None or distance < best[0]:
            best = (distance, float(layout.uv[corner, 0, triangle]), float(layout.uv[corner, 1, triangle]))
    return () if best is None else ((best[1], best[2]),)
