"""Whether a map was painted for a layout, or for it turned, mirrored, moved, or for another one.

Where the map differs from its ground, something is painted. A layout fits when its islands are painted and the texels far
from them are not: score = share of island texels painted - share of far texels painted, 1 at best, about 0 for a stranger.
A right map covers its islands whole, however generously it is painted round them; so only a position that covers nearly
everything is ever named, and only if the layout as it is covers less or has much more paint far from its islands.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .background import LEAST_BY_PAINT, MAY_END_ON_GROUND
from .border_bands import FAR, INSIDE, BorderBands
from .carried import carried_share, edge_share, explained
from .samples import Image, as_channels, packed

AS_IT_IS = "as it is"
_Grid = NDArray[Any]
CHANGES: dict[str, Callable[[_Grid], _Grid]] = {
    AS_IT_IS: lambda grid: grid,
    "turned 90 degrees clockwise": lambda grid: np.rot90(grid, -1),
    "turned 180 degrees": lambda grid: np.rot90(grid, 2),
    "turned 90 degrees anticlockwise": lambda grid: np.rot90(grid, 1),
    "mirrored left to right": lambda grid: grid[:, ::-1],
    "mirrored top to bottom": lambda grid: grid[::-1],
    "mirrored along the falling diagonal": lambda grid: grid.swapaxes(0, 1),
    "mirrored along the rising diagonal": lambda grid: grid[::-1, ::-1].swapaxes(0, 1),
}

GRID = 256  # samples a side; shifts are found in these parts of the tile
COVERED = 0.97  # share of the islands that must be painted in a position that is named
GAIN_COVERED, GAIN_SCORE = 0.03, 0.08  # by which it must beat the layout as it is
GAIN_ALONE = (
    0.2  # gain in score that needs no such gain in cover; for a stranger only where this one is not all painted
)
MOST_ASTRAY = 0.5  # share of the paint that may lie far from the layout in a position that is named: else it is chance
# A map is a stranger's by score where a little of this layout is bare and next to nothing is painted but the stranger's islands.
WHOLE, NOTHING_ELSE, GAIN_STRANGER = 0.995, 0.02, 0.15
DOUBT_SPILLED = 0.1  # share of far texels painted above which other layouts are worth a look though this one is covered
LEAST_SCORE = 0.4
SURE_GAIN = (
    0.5  # gain in score of a moved layout that needs no such score: much lies far from the islands wherever they are
)
# A stranger whose layout is not at hand: this layout is covered so little, and so much lies far from it, also beside what covers
# it. Where the ground takes most of the tile it may be a plain coat with details on the islands, so more has to lie astray, and
# islands that small may be a few cells of a map that other things share. Common practice, no source.
STRANGE_COVERED, STRANGE_SPILLED, STRANGE_BESIDE = 0.85, 0.05, 0.1
MOSTLY_GROUND, ASTRAY, ASTRAY_BESIDE, OWN_ISLANDS = 0.75, 0.1, 0.25, 0.05
# Its ground: shares of the tile's border that may be painted, and how many times the next plain colour it must show there.
BORDER_BARE, RIVAL, BORDER_PARTLY, NO_RIVAL = 0.2, 5, 0.6, 50
# A colour whose far texels the nearest island edges explain to such a share, and by so much more than edges show it anywhere
# (a layout that is not the map's has edges all over the ground), is paint carried outwards.
CARRIED, CARRIED_OVER_CHANCE = 0.93, 0.25
LEAST_FAR = 0.02  # share of the far samples that a ground must show
LEAST_SHARE = 0.005  # of the tile that must be islands, and that must be far from them

_GROUND_SHARE = 0.05  # of the samples a colour must hold to be tried as the ground
_GROUNDS = 2
_FURTHER = (16, 8, 4)  # samples from the islands at which the ground is looked for, if there is room so far out
_ROOM = 0.1
_ALIKE = 0.01


@dataclass(frozen=True, slots=True)
class Candidate:
    """A layout tried. layout: "" for the map's own, else the name given. change: a key of CHANGES.

    shift: to the right and down, in parts of the tile, by which the layout must move (wrapping) to meet the paint.
    covered: share of the islands that is painted; spilled: of what is far from them. astray: share of the paint that is there.
    """

    layout: str
    change: str
    shift: tuple[float, float]
    score: float
    covered: float
    spilled: float
    astray: float = 0.0


@dataclass(frozen=True, slots=True)
class Fit:
    """verdict: "fits", "turned" (or mirrored), "moved", "another layout" (best.layout names it, "" where none at hand fits), or
    "cannot tell".

    own: the layout as it is. best: the best of all tried, own where it fits so well that no other was. equals: other
    candidates that score as well as the best.
    reason: one sentence for "cannot tell", else "". ground: colour taken for the ground, () when none was found.
    """

    verdict: str
    own: Candidate | None
    best: Candidate | None
    equals: tuple[Candidate, ...]
    reason: str
    ground: tuple[int, ...]


def fit(
    image: Image,
    bands: BorderBands,
    others: Mapping[str, BorderBands] | None = None,
    tolerance: int = 0,
    no_paint: bool = False,
) -> Fit:
    """Tries the layout as it is, in the seven other positions of a square, each also moved, and every other layout given.

    others: layouts that may be meant instead, by name: the next tile's, an older version's, another prop's.
    tolerance: codes by which a texel may miss the ground and still show it; 0 for lossless maps. no_paint: as for `background`.
    """
    if image.shape[:2] != bands.band.shape:
        raise ValueError(f"the map is {image.shape[:2]}, the layout {bands.band.shape}")
    sample = _sampled(as_channels(image), GRID)
    zone = _sampled(bands.band, GRID)
    if min(np.mean(zone == INSIDE), np.mean(zone == FAR)) < LEAST_SHARE:
        return _untold("the layout leaves too little of the tile empty, or has hardly any islands")
    grounds = _grounds(sample, tolerance)
    if not grounds:
        return _untold("no colour stands out as unpainted ground: the map fills its tile")
    grounds = [g for g in grounds if not _carried(image, bands, zone, g, tolerance, no_paint)]
    if not grounds:
        return _untold("paint is carried from the islands over the whole tile")

    own_layout = _Layout(zone)
    stills = [own_layout.at(painted, "", AS_IT_IS, 0, 0) for _, painted in grounds]
    first = max(range(len(stills)), key=lambda n: stills[n].score)
    if stills[first].covered > 1 - GAIN_COVERED and stills[first].score > 1 - GAIN_ALONE:
        return Fit("fits", stills[first], stills[first], (), "", grounds[first][0])  # nothing could be named instead
    tried = [("", change, own_layout.changed(turn)) for change, turn in CHANGES.items()]
    tried += [(name, AS_IT_IS, _Layout(_sampled(other.band, GRID))) for name, other in (others or {}).items()]
    best_of: dict[tuple[str, str], tuple[Candidate, int]] = {}
    for number, (_, painted) in enumerate(grounds):
        spectrum = np.fft.rfft2(painted.astype(np.float64))
        for name, change, placed in tried:
            still, moved = placed.candidates(painted, spectrum, name, change)
            best = moved if moved.score > still.score + 0.01 else still
            if (name, change) not in best_of or best.score > best_of[name, change][0].score:
                best_of[name, change] = best, number
    highest = max(c.score for c, _ in best_of.values())
    # Of candidates that score alike the plainest is named: not moved before moved, in the order tried.
    alike = [pair for pair in best_of.values() if pair[0].score >= highest - _ALIKE]
    alike.sort(key=lambda pair: pair[0].shift != (0.0, 0.0))
    best, number = alike[0]
    equals = tuple(c for c, _ in alike[1:])
    verdict, reason = _verdict(stills[first], best, grounds[first], sample, float(np.mean(zone == INSIDE)))
    ground = grounds[number if verdict in ("turned", "moved", "another layout") else first][0]
    return Fit(verdict, stills[first], best, equals, reason, ground)


def in_doubt(found: Fit) -> bool:
    """Whether other layouts are worth trying: there is a ground, and paint and islands do not agree."""
    own = found.own
    return own is not None and (found.verdict != "fits" or own.spilled > DOUBT_SPILLED)


def _untold(reason: str) -> Fit:
    return Fit("cannot tell", None, None, (), reason, ())


def _verdict(
    own: Candidate, best: Candidate, ground: tuple[tuple[int, ...], NDArray[np.bool_]], sample: Image, islands: float
) -> tuple[str, str]:
    named = best.covered >= COVERED and best.score >= LEAST_SCORE
    named = named and (bool(best.layout) or best.astray <= MOST_ASTRAY)
    gain = best.covered >= own.covered + GAIN_COVERED and best.score >= own.score + GAIN_SCORE
    # Props may share a map by right: a stranger that has more of it is named only where this one's islands are not all painted.
    bare = own.covered < COVERED or (own.covered < WHOLE and best.spilled <= NOTHING_ELSE)
    alone = GAIN_ALONE if not best.layout else GAIN_STRANGER
    gain = gain or ((not best.layout or bare) and best.score >= own.score + alone)
    if named and gain:
        if best.layout:
            return "another layout", ""
        return ("turned" if best.change != AS_IT_IS else "moved"), ""
    if own.covered > 0.9:
        return "fits", ""
    if not named and _strange(own, 1 - float(ground[1].mean()), islands) and _surely_ground(ground, sample):
        return "another layout", ""
    if own.score > 0.5:
        return "fits", ""
    return "cannot tell", "paint and ground cannot be told apart well enough"


def _strange(own: Candidate, ground: float, islands: float) -> bool:
    """Paint and islands have little to do with each other. ground, islands: shares of the tile."""
    if own.covered > STRANGE_COVERED or own.spilled < max(STRANGE_SPILLED, STRANGE_BESIDE * own.covered):
        return False
    return ground <= MOSTLY_GROUND or (
        islands >= OWN_ISLANDS and own.spilled >= max(ASTRAY, ASTRAY_BESIDE * own.covered)
    )


def _surely_ground(ground: tuple[tuple[int, ...], NDArray[np.bool_]], sample: Image) -> bool:
    """No other plain colour rivals it, and it lies all along the tile's border, or along much of it where hardly anything else
    is plain: it is unpainted, not plain paint.
    """
    _, painted = ground
    share = 1 - float(painted.mean())
    border = float(np.concatenate([painted[0], painted[-1], painted[:, 0], painted[:, -1]]).mean())
    _, counts = np.unique(packed(sample[painted]), return_counts=True)
    rival = int(counts.max()) / painted.size if len(counts) else 0.0
    alone = border <= BORDER_BARE and rival <= share / RIVAL
    return share >= 0.1 and (alone or (border <= BORDER_PARTLY and rival <= share / NO_RIVAL))


class _Layout:
    """Islands and far texels of a layout on the grid, and the weights whose sum over the painted samples is the score."""

    def __init__(self, zone: NDArray[np.uint8]) -> None:
        self._set(zone == INSIDE, _far(zone))

    def _set(self, inside: NDArray[np.bool_], far: NDArray[np.bool_]) -> None:
        self.inside, self.far = inside, far

    @cached_property
    def spectrum(self) -> NDArray[np.complex128]:
        inside, far = (zone / max(int(np.count_nonzero(zone)), 1) for zone in (self.inside, self.far))
        return np.asarray(np.conj(np.fft.rfft2(inside - far)))

    def changed(self, turn: Callable[[_Grid], _Grid]) -> _Layout:
        out = _Layout.__new__(_Layout)
        out._set(turn(self.inside), turn(self.far))
        return out

    def candidates(
        self, painted: NDArray[np.bool_], spectrum: NDArray[np.complex128], name: str, change: str
    ) -> tuple[Candidate, Candidate]:
        """The layout where it is, and where it scores best when moved round the tile (correlation by Fourier transform)."""
        score = np.fft.irfft2(spectrum * self.spectrum, s=self.inside.shape)
        down, right = np.unravel_index(int(np.argmax(np.round(score, 6))), score.shape)
        return self.at(painted, name, change, 0, 0), self.at(painted, name, change, int(right), int(down))

    def at(self, painted: NDArray[np.bool_], name: str, change: str, right: int, down: int) -> Candidate:
        there = np.roll(painted, (-down, -right), (0, 1))
        covered = float(there[self.inside].mean()) if self.inside.any() else 0.0
        spilled = float(there[self.far].mean()) if self.far.any() else 1.0
        x, y = ((by + GRID // 2) % GRID - GRID // 2 for by in (right, down))
        astray = float(np.count_nonzero(there & self.far)) / max(int(np.count_nonzero(there)), 1)
        return Candidate(name, change, (x / GRID, y / GRID), covered - spilled, covered, spilled, astray)


def _far(zone: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Samples as far from the islands as the layout has room for, so that generous paint does not count as spilled."""
    islands = zone == INSIDE
    for distance in _FURTHER:
        near = islands.copy()
        for axis in (0, 1):
            whole = near.copy()
            for step in range(1, distance + 1):
                near |= _slid(whole, step, axis) | _slid(whole, -step, axis)
        if np.count_nonzero(~near & (zone == FAR)) >= _ROOM * zone.size:
            return np.asarray(~near & (zone == FAR))
    return np.asarray(zone == FAR)


def _slid(grid: NDArray[np.bool_], step: int, axis: int) -> NDArray[np.bool_]:
    out = np.zeros_like(grid)
    source = [slice(None), slice(None)]
    target = [slice(None), slice(None)]
    source[axis] = slice(max(-step, 0), grid.shape[axis] - max(step, 0))
    target[axis] = slice(max(step, 0), grid.shape[axis] - max(-step, 0))
    out[tuple(target)] = grid[tuple(source)]
    return out


def _grounds(sample: Image, tolerance: int) -> list[tuple[tuple[int, ...], NDArray[np.bool_]]]:
    """The most common colours that may be the ground, each with where the map differs from it."""
    channels = sample.shape[2]
    codes, counts = np.unique(packed(sample.reshape(-1, channels)), return_counts=True)
    out = []
    for at in np.argsort(-counts, kind="stable")[:_GROUNDS].tolist():
        color = tuple(int(codes[at]) >> 16 * (channels - 1 - c) & 0xFFFF for c in range(channels))
        painted = (np.abs(sample.astype(np.int32) - np.array(color)) > tolerance).any(axis=2)
        if 1 - painted.mean() >= _GROUND_SHARE and painted.mean() >= 0.01:
            out.append((color, painted))
    return out


def _carried(
    image: Image,
    bands: BorderBands,
    zone: NDArray[np.uint8],
    ground: tuple[tuple[int, ...], NDArray[np.bool_]],
    tolerance: int,
    no_paint: bool,
) -> bool:
    """Whether the colour, where it lies far from the islands, came from their edges; or hardly lies there at all.

    no_paint: edges that show it may be bare, so what lies beside painted ones is asked too.
    """
    color, painted = ground
    rows, columns = np.nonzero((zone == FAR) & ~painted)
    if len(rows) < LEAST_FAR * np.count_nonzero(zone == FAR):
        return True
    places = _places(rows, columns, bands, len(zone))
    share = carried_share(image, bands, places, color, tolerance)
    if share < CARRIED or share < CARRIED_OVER_CHANCE + edge_share(image, bands, color, tolerance):
        return False
    if not no_paint:
        return True
    rows, columns = np.nonzero(zone == FAR)
    far = _places(rows, columns, bands, len(zone))
    by = explained(image, bands, far, np.zeros(bands.islands, bool), color, tolerance)
    return by.by_paint < LEAST_BY_PAINT or by.beside < MAY_END_ON_GROUND


def _places(rows: NDArray[np.int64], columns: NDArray[np.int64], bands: BorderBands, side: int) -> NDArray[np.int64]:
    """Flat indices into the map of samples of the grid."""
    height, width = bands.band.shape
    return np.asarray(_even_steps(height, side)[rows] * width + _even_steps(width, side)[columns])


def _even_steps(size: int, side: int) -> NDArray[np.int64]:
    return (2 * np.arange(side) + 1) * size // (2 * side)


def _sampled(image: NDArray[Any], side: int) -> NDArray[Any]:
    """side x side texels at even steps over the tile, whatever its shape."""
    height, width = image.shape[:2]
    return np.asarray(image[_even_steps(height, side)[:, None], _even_steps(width, side)[None, :]])
