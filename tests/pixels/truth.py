"""Measured against true over random cases: `python -m tests.pixels.truth --cases 500`.

Each case paints a random layout with a known bleed in one of five kinds of texture, spoils copies of it in a known way, and asks
every detector about the right one and the spoilt ones. Printed: how often each fault was found, how often a right thing was
called wrong, both with the 95 % interval. Layouts are rasterised and distances measured by means the detectors do not use.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace

import numpy as np
from PIL import Image

from tests.pixels.scenes import filled_up, halved, painted, seam_scene
from tests.pixels.synthetic import TEXTURES, texture, true_bleed, wilson
from tidegate.pixels.background import background
from tidegate.pixels.bleed import bleed
from tidegate.pixels.color_space import decode, encode
from tidegate.pixels.differing import differing
from tidegate.pixels.fit import AS_IT_IS, CHANGES, fit
from tidegate.pixels.flat import flatness
from tidegate.pixels.guide_trace import guide_trace
from tidegate.pixels.master import compare_master
from tidegate.pixels.normal_length import normal_length
from tidegate.pixels.same_picture import same_picture, signature
from tidegate.pixels.seams import normal_differences, seam_differences, seams
from tidegate.pixels.unpainted import unpainted

DEPTH, WANTED = 16, 8
SEAM_LIMIT, NORMAL_LIMIT = 0.03, 0.02
LIGHTER_LIMIT = 0.03
SEAM_SHARE = 0.35
MASTER_LIMIT = 0.001
TRACE_SHARE, TRACE_OUT = 0.5, 0.4


def _none_yet():
    return [0, 0]


class Tally:
    """Hits and tries under a name, in the order first met."""

    def __init__(self):
        self.rows = defaultdict(_none_yet)  # a named function, so that a tally can come from another process
        self.missed = defaultdict(list)
        self.off = defaultdict(list)

    def add(self, name, hit, seed=None):
        self.rows[name][0] += bool(hit)
        self.rows[name][1] += 1
        if not hit:
            self.missed[name].append(seed)

    def measured(self, name, found, true):
        """A measure beside its true value."""
        self.off[name].append(abs(float(found) - float(true)))

    def merge(self, other):
        for name, (hits, tries) in other.rows.items():
            self.rows[name][0] += hits
            self.rows[name][1] += tries
        for mine, theirs in ((self.missed, other.missed), (self.off, other.off)):
            for name, values in theirs.items():
                mine[name].extend(values)

    def share(self, name):
        hits, tries = self.rows[name]
        return hits / tries if tries else float("nan")

    def lines(self):
        """Two tables, ready to be shown."""
        yield "| detector, against the truth | right | % | 95 % interval |"
        yield "|---|---|---|---|"
        for name, (hits, tries) in self.rows.items():
            low, high = wilson(hits, tries)
            yield f"| {name} | {hits} / {tries} | {100 * hits / tries:.2f} | {100 * low:.2f} to {100 * high:.2f} |"
        yield ""
        yield "| measured less true | times | exact % | median | 99 % within | largest |"
        yield "|---|---|---|---|---|---|"
        for name, off in self.off.items():
            exact = 100 * np.mean(np.array(off) < 1e-9)
            middle, most = np.quantile(off, [0.5, 0.99])
            yield f"| {name} | {len(off)} | {exact:.2f} | {middle:.4g} | {most:.4g} | {max(off):.4g} |"


def run(cases, first=0):
    tally = Tally()
    for seed in range(first, first + cases):
        rng = np.random.default_rng([77, seed])
        scene = painted(rng)
        alarms = _layout_truth(tally, scene, rng, seed)
        alarms |= _fit_truth(tally, scene, rng, seed)
        alarms |= _seam_truth(tally, scene.kind, rng, seed)
        alarms |= _normal_truth(tally, scene, rng, seed)
        alarms |= _master_truth(tally, scene, rng, seed)
        alarms |= _picture_truth(tally, scene, rng, seed)
        _filled_truth(tally, rng, seed)
        tally.add("clean prop without any false error", not (alarms - {"seam"}), seed)
        tally.add("clean prop without any false error, seams counted", not alarms, seed)
    return tally


def _layout_truth(tally, scene, rng, seed):
    alarms = set()
    bands = scene.bands(DEPTH)
    ground = background(scene.image, bands)
    tally.add("background found", ground is not None and ground.color == scene.ground, seed)
    if ground is None:
        return alarms
    shows = differing(scene.image, ground.color)
    found = bleed(shows, bands, WANTED)
    truth = true_bleed(scene.distance <= scene.bleed, scene.labels, scene.islands, DEPTH)
    for i, want in enumerate(truth):
        if want is None or not found.can_tell[i]:
            continue
        tally.add("bleed exact to the texel, by the definition", found.depth[i] == want, seed)
        tally.measured("bleed depth of an island, texels", found.depth[i], want)
        if not found.open_ended[i]:
            tally.add("bleed equal to the depth painted", found.depth[i] == scene.bleed, seed)
        if ground.certain and want >= WANTED and found.depth[i] < WANTED:
            alarms.add("bleed")
        if want < WANTED:
            tally.add("short bleed found", found.depth[i] < WANTED, seed)
    clean = unpainted(shows, scene.labels, bands.totals[:, 0])
    if clean.texels.sum():
        alarms.add("unpainted")
    holed = scene.image.copy()
    island = int(rng.integers(scene.islands))
    place = np.argwhere(scene.labels == island)
    if len(place):
        y, x = place[rng.integers(len(place))]
        side = int(rng.integers(1, 9))
        hole = np.zeros(scene.labels.shape, bool)
        hole[max(y - side // 2, 0) : y + side - side // 2, max(x - side // 2, 0) : x + side - side // 2] = True
        holed[hole] = scene.ground
        told = unpainted(differing(holed, ground.color), scene.labels, bands.totals[:, 0])
        true = int((hole & (scene.labels == island)).sum())
        tally.add("unpainted texels counted exactly", told.texels[island] == true, seed)
        tally.measured("unpainted share of an island", told.share[island], true / (scene.labels == island).sum())
        x0, y0, x1, y1 = told.worst_box[0].tolist() if len(told.worst_box) else (0, 0, 0, 0)
        tally.add("unpainted place boxed", x0 <= x < x1 and y0 <= y < y1, seed)
    return alarms


def _filled_truth(tally, rng, seed):
    """Clean props whose paint leaves no ground, beside those that have one."""
    for how in ("carried", "flat", "canvas"):
        scene = filled_up(rng, how)
        bands = scene.bands(DEPTH)
        ground = background(scene.image, bands)
        wrong = False
        if ground is not None and ground.certain:
            shows = differing(scene.image, ground.color)
            found = bleed(shows, bands, WANTED)
            wrong = bool(((found.depth < WANTED) & found.can_tell).any())
            wrong |= unpainted(shows, scene.labels, bands.totals[:, 0]).texels.sum() > 0
        wrong |= fit(scene.image, bands).verdict not in ("fits", "cannot tell")
        tally.add(f"clean prop without a ground left alone, {how}", not wrong, seed)


def _fit_truth(tally, scene, rng, seed):
    bands = scene.bands(WANTED)
    clean = fit(scene.image, bands)
    alarm = clean.verdict not in ("fits", "cannot tell")
    tally.add("right map: fits", clean.verdict == "fits", seed)
    names = [name for name in CHANGES if name != AS_IT_IS]
    if scene.labels.shape[0] != scene.labels.shape[1]:
        names = [name for name in names if CHANGES[name](scene.labels).shape == scene.labels.shape]
    change = str(rng.choice(names))
    told = fit(np.ascontiguousarray(CHANGES[change](scene.image)), bands)
    named = told.best is not None and change in [told.best.change, *(c.change for c in told.equals)]
    tally.add("turned or mirrored map: found", told.verdict in ("turned", "moved"), seed)
    if told.verdict == "turned":
        tally.add("turned or mirrored map: the right one named, if found", named, seed)
    height, width = scene.labels.shape
    right, down = int(rng.integers(width // 6, width // 2)), int(rng.integers(-height // 2, height // 2))
    told = fit(np.roll(scene.image, (down, right), (0, 1)), bands)
    tally.add("map moved by a sixth of the tile or more: found", told.verdict in ("moved", "turned"), seed)
    stranger = painted(rng, size=scene.labels.shape)
    told = fit(stranger.image, bands, {"other": stranger.bands(WANTED)})
    tally.add("another prop's map, its layout at hand: found", told.verdict == "another layout", seed)
    told = fit(stranger.image, bands)
    tally.add(
        "another prop's map, its layout not at hand: called no fit", told.verdict not in ("fits", "cannot tell"), seed
    )
    return {"fit"} if alarm else set()


def _seam_truth(tally, kind, rng, seed):
    start = rng.integers(1 << 30)

    def excess(materials=False, **fault):
        scene = seam_scene(np.random.default_rng(start), kind, **fault)
        edges = scene.edges if not materials else replace(scene.edges, materials=np.ones(len(scene.edges.a), bool))
        compare = normal_differences if fault.get("normals", False) else seam_differences
        worst = seams(edges, compare(scene.image, edges, scene.labels), (192, 96), SEAM_LIMIT)[0]
        return worst.excess if worst.share >= SEAM_SHARE and not (materials and worst.deliberate) else 0.0

    alarm = excess() > SEAM_LIMIT
    tally.add(f"clean seam left alone, {kind}", not alarm, seed)
    tally.add(f"seam lighter by 0.08 on one side: found, {kind}", excess(step=0.08) > SEAM_LIMIT, seed)
    lighter = seam_scene(np.random.default_rng(start), kind, step=0.08)
    differences = seam_differences(lighter.image, lighter.edges, lighter.labels)
    even = seam_scene(np.random.default_rng(start), kind)
    for scene, differ in ((even, seam_differences(even.image, even.edges, even.labels)), (lighter, differences)):
        by_lines = seams(scene.edges, differ, (192, 96), SEAM_LIMIT)[0].lifted > LIGHTER_LIMIT
        if scene is lighter:
            tally.add(f"seam lighter by 0.08 on one side: found in means along it, {kind}", by_lines, seed)
        else:
            alarm |= by_lines
            tally.add(f"clean seam left alone in means along it, {kind}", not by_lines, seed)
    tally.measured("step across a seam, of 1", seams(lighter.edges, differences, (192, 96), SEAM_LIMIT)[0].step, 0.08)
    tally.add(f"seam displaced by 20 texels: found, {kind}", excess(shift=20.0) > SEAM_LIMIT, seed)
    tally.add("clean seam of two materials left alone", excess(materials=True) <= SEAM_LIMIT, seed)
    lit, away = excess(materials=True, step=0.08), excess(materials=True, shift=53.0)
    tally.add(f"one paint over two materials, lighter by 0.08: found, {kind}", lit > SEAM_LIMIT, seed)
    tally.add("two materials that meet, each with its own paint: left alone", away <= SEAM_LIMIT, seed)
    for strength in (8, 24):
        alike, moved = (excess(normals=True, shift=by, relief=strength) for by in (0.0, 20.0))
        tally.add(f"clean seam of normals left alone, relief {strength}", alike <= NORMAL_LIMIT, seed)
        tally.add(f"seam of normals displaced by 20 texels: found, relief {strength}", moved > NORMAL_LIMIT, seed)
    return {"seam"} if alarm else set()


def _normal_truth(tally, scene, rng, seed):
    height, width = scene.labels.shape
    relief = texture(scene.kind, rng, height, width)[..., 0] / 255.0 * rng.uniform(0.5, 6)
    down, right = np.gradient(relief)
    vector = np.stack([-right, down, np.ones_like(relief)], axis=2)
    vector /= np.linalg.norm(vector, axis=2, keepdims=True)
    value = vector / 2 + 0.5
    good = normal_length(np.rint(value * 255).astype(np.uint8))
    alarm = good.curve != "" or not good.is_normal_map or good.beyond > 0
    for name, curve in (("encoded", encode), ("decoded", decode)):
        told = normal_length(np.rint(curve(value) * 255).astype(np.uint8))
        tally.add(f"normal map {name} by the curve: found", told.curve == name, seed)
    told = normal_length(scene.image, scene.labels >= 0)
    tally.add("base color in the normal slot: found", not told.is_normal_map, seed)
    tally.add("right normal map left alone", not alarm, seed)
    return {"normal"} if alarm else set()


def _master_truth(tally, scene, rng, seed):
    image = scene.image
    even = image[: image.shape[0] // 2 * 2, : image.shape[1] // 2 * 2]
    how = [Image.Resampling.BOX, Image.Resampling.BILINEAR, Image.Resampling.BICUBIC, Image.Resampling.LANCZOS]
    method = how[int(rng.integers(4))]
    small = np.asarray(Image.fromarray(even).resize((even.shape[1] // 2, even.shape[0] // 2), method))
    alarm = False
    for flat, scale in ((even, "same size"), (small, "half size")):
        factor = even.shape[0] // flat.shape[0]
        clean = compare_master(even, flat)
        wrong = clean.differing > MASTER_LIMIT
        alarm |= wrong
        tally.add(f"master equal to its map left alone, {scale}", not wrong, seed)
        changed = even.copy()
        y, x = (int(rng.integers(0, side - 24)) for side in even.shape[:2])
        changed[y : y + 24, x : x + 24] = 255 - changed[y : y + 24, x : x + 24]
        told = compare_master(changed, flat)
        tally.add(f"master repainted in 24 x 24 texels: found, {scale}", told.differing > MASTER_LIMIT, seed)
        if told.boxes:
            x0, y0, x1, y1 = (v * factor for v in told.boxes[0])
            tally.add(
                f"master's repainted place boxed, {scale}", x0 < x + 24 and x1 > x and y0 < y + 24 and y1 > y, seed
            )
        wire = np.zeros(flat.shape[:2], bool)
        wire[int(rng.integers(3, 9)) :: 17] = True
        wire[:, int(rng.integers(3, 9)) :: 23] = True
        drawn = even.copy()
        full = np.kron(wire, np.ones((factor, factor), bool))
        drawn[full] = drawn[full] // 3 + 20
        tally.add(
            f"guide layer visible in the master: named, {scale}", compare_master(drawn, flat, wire).guide_visible, seed
        )
        tally.add(
            f"repainted place not called a guide, {scale}", not compare_master(changed, flat, wire).guide_visible, seed
        )
    return {"master"} if alarm else set()


def _picture_truth(tally, scene, rng, seed):
    other = scene.image.copy()
    there = scene.distance <= scene.bleed
    other[there] = texture(str(rng.choice(TEXTURES)), rng, *scene.labels.shape)[there]
    one = signature(scene.image)
    large = np.kron(scene.image, np.ones((4, 4, 1), np.uint8))  # as large as maps are: the grid is made for those
    tally.add(
        "same picture at half size: matched", same_picture(signature(large), signature(halved(large))) == "same", seed
    )
    alarm = same_picture(one, signature(other)) == "same"
    tally.add("two pictures on one layout kept apart", not alarm, seed)
    flat = np.full_like(scene.image, rng.integers(0, 256, 3).astype(np.uint8))
    tally.add("map of one colour: found", flatness(flat, False).looks_unsaved != "", seed)
    unsaved = flatness(scene.image, False).looks_unsaved != ""
    tally.add("painted map not called unsaved", not unsaved, seed)
    y = np.arange(20, scene.labels.shape[0] - 20) + 0.5
    columns = np.arange(30, scene.labels.shape[1] - 30, 24)
    point = np.concatenate([np.stack([np.full(len(y), c + 0.5), y], axis=1) for c in columns])
    across = np.tile([1.0, 0.0], (len(point), 1))
    picture = texture(scene.kind, rng, *scene.labels.shape)
    drawn = picture.copy()
    drawn[:, columns] //= 2
    clean, traced = (guide_trace(p, point, across) for p in (picture, drawn))
    found, wrong = (one.on > TRACE_SHARE and one.on - one.aside >= TRACE_OUT for one in (traced, clean))
    tally.add(f"dark lines along the wire: found, {scene.kind}", found, seed)
    tally.add("no lines along the wire: left alone", not wrong, seed)
    return ({"same picture"} if alarm else set()) | ({"unsaved"} if unsaved else set())


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--cases", type=int, default=500)
    asked.add_argument("--first", type=int, default=0, help="number of the first case")
    asked.add_argument("--missed", action="store_true", help="list the cases that went wrong")
    asked.add_argument("--jobs", type=int, default=1, help="processes")
    options = asked.parse_args()
    step = -(-options.cases // (options.jobs * 4))
    firsts = range(options.first, options.first + options.cases, step)
    counts = [min(step, options.first + options.cases - first) for first in firsts]
    tally = Tally()
    with ProcessPoolExecutor(options.jobs) as pool:
        for part in pool.map(run, counts, firsts):
            tally.merge(part)
    for line in tally.lines():
        print(line)
    if options.missed:
        for name, seeds in tally.missed.items():
            print(f"{name}: {seeds[:20]}")


if __name__ == "__main__":
    main()
