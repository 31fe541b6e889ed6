"""One result of a check: level, what is wrong, where, measured, wanted, and what to do."""

from __future__ import annotations

from dataclasses import dataclass, field

LEVELS = ("error", "warning", "note")


@dataclass(frozen=True, slots=True)
class Place:
    """The smallest place that shows a finding. Every field may be empty.

    file: relative to the drop. islands: numbers of the report's islands. uv_box: (u0, v0, u1, v1), V up.
    point: metres. pixel_box: (x0, y0, x1, y1), half-open, from the picture's upper left. map: file of the picture.
    """

    file: str = ""
    role: str = ""
    node: str = ""
    mesh: str = ""
    material: str = ""
    slot: str = ""
    variant: str = ""
    uv_layer: int | None = None
    tile: int | None = None
    islands: tuple[int, ...] = ()
    uv_box: tuple[float, float, float, float] | None = None
    point: tuple[float, float, float] | None = None
    pixel_box: tuple[int, int, int, int] | None = None
    map: str = ""


@dataclass(frozen=True, slots=True)
class Shown:
    """What pictures show of a finding beside its place.

    shared: the texels that more than one triangle of its islands covers. spots: (u, v) points in the tile, V up, the worst
    first. around: UV boxes that get a ring where they are drawn small. faces: (part, first, stop) runs of triangles, by the
    numbers of `Facts.parts`, that show the fault: hatched in place of whole islands,
    and what follows from the fault is told by them.
    texel: (x, y) of the map from its upper left, where to look first. master: path of the layered file whose picture is put
    beside the map. over: what is drawn over the whole map: "outlines" of the islands, or "wire", the edges inside them too.
    heat: the picture that shows the fault, "density_map" or "stretch_map", drawn though no one asked for it.
    """

    shared: bool = False
    spots: tuple[tuple[float, float], ...] = ()
    around: tuple[tuple[float, float, float, float], ...] = ()
    faces: tuple[tuple[int, int, int], ...] = ()
    texel: tuple[int, int] | None = None
    master: str = ""
    over: str = ""
    heat: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """One bad thing, named by its check.

    message stands alone on a narrow screen: lower case, no full stop, says what is, not what to do.
    measured, wanted: numbers or short texts in `unit`, None where there is nothing to compare. A wanted number is the end
    that the measured one is beyond; where it is a mark to hit, from either side, `exact` says so.
    help: what to do. certain: False for `cannot tell`, which a check says instead of guessing.
    cause: name of the check whose finding explains this one; it is then listed under that cause, and its level is kept
    only as a consequence (`note`). A check may suppose one: it counts where that check told of the same islands.
    letter: stands for the finding in pictures and reports, "" where no picture was asked for it (`letters.lettered`).
    shown: what pictures need to draw it; no report tells it.
    each_alone: every one of its islands has the fault by itself, and not with another one.
    also_maps: further maps that show the same fault, beside that of its place: what follows from it there follows from it too.
    """

    check: str
    level: str
    message: str
    place: Place = field(default_factory=Place)
    measured: float | int | str | None = None
    wanted: float | int | str | None = None
    unit: str = ""
    help: str = ""
    certain: bool = True
    cause: str = ""
    letter: str = ""
    exact: bool = False
    shown: Shown = field(default_factory=Shown)
    each_alone: bool = False
    also_maps: tuple[str, ...] = ()
