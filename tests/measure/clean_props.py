"""Whole props through every check of paint of a shipped set: `python -m tests.measure.clean_props --cases 2000`.

Each case lays out random islands, paints a set of maps over them as a right export would look, and lists what the checks say.
Then one thing is spoilt and the finding that names it is looked for. Islands are filled by the crossing-number rule, distances
come from SciPy, triangles from Shapely: nothing that the checks use. Shares are printed with their 95 % interval.
"""

from __future__ import annotations

import argparse
import io
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from PIL import Image
from scipy.ndimage import distance_transform_edt

from tests.pixels.synthetic import TEXTURES, layout, raster, texture, wilson
from tests.support.laid_props import Sheet
from tests.support.mesh_props import SETTINGS
from tests.support.painted_props import Maps, Pictures, wearing
from tidegate import checks
from tidegate.judge.judge import judge, needs_of
from tidegate.load.rule_set import read_rule_set
from tidegate.measure.measure import measure
from tidegate.model.finding import Finding
from tidegate.model.prop import Master
from tidegate.model.rule_set import RuleSet
from tidegate.pixels.color_space import encode

GROUPS = {"pixels", "painted", "masters", "flatness"}
GROUNDS = ("ground", "carried", "canvas", "jpeg")
BLEED = 4  # texels that the sets want


@dataclass
class Case:
    """labels (H, W), -1 outside. bleed: texels of paint past the islands, of the ground kinds that have an end."""

    labels: np.ndarray
    sheets: list[Sheet]
    kind: str
    ground: str
    bleed: int
    color: np.ndarray
    maps: Maps = field(default_factory=dict)


def case(seed: int, bleed: int | None = None) -> Case:
    """A clean prop. bleed: as given, else 5 to 12 texels, a texel more than wanted, as islands end between texels."""
    rng = np.random.default_rng(seed)
    side = int(rng.choice([160, 192, 256]))
    polygons = layout(rng, side, side, int(rng.integers(2, 9)))
    labels = raster(polygons, side, side)
    kind, ground = str(rng.choice(TEXTURES)), str(rng.choice(GROUNDS))
    made = Case(
        labels,
        [_sheet(p, side) for p in polygons if shapely.Polygon(p).buffer(0).area > 0],
        kind,
        ground,
        bleed or int(rng.integers(5, 13)),
        np.zeros(3),
    )
    distance, (y, x) = distance_transform_edt(labels < 0, return_indices=True)
    made.color = rng.choice([0, 5, 128, 250, 255], 3) if rng.random() < 0.5 else np.repeat(rng.choice([0, 128, 255]), 3)
    color = texture(kind, rng, side, side, low=40, high=215)
    rough = texture(str(rng.choice(TEXTURES)), rng, side, side, low=60, high=220)[:, :, 0]
    metal = np.where(rng.random(len(polygons) + 1) < 0.4, 255, 0).astype(np.uint8)[labels[y, x]]
    lean = texture("smooth", rng, side, side, low=80, high=175)[:, :, :2].astype(float) / 127.5 - 1
    up = np.sqrt(1 - (lean**2).sum(axis=2, keepdims=True))
    normal = np.rint((np.concatenate([lean, up], axis=2) + 1) * 127.5).astype(np.uint8)
    far = distance > made.bleed
    if ground == "carried":
        color, rough, normal = color[y, x], rough[y, x], normal[y, x]
    elif ground != "canvas":
        color[far], rough[far], metal[far], normal[far] = made.color, 0, 0, (128, 128, 255)
    made.maps = {"base_color": color, "roughness": rough, "metalness": metal, "normal": normal}
    if ground == "jpeg":
        made.maps["base_color"] = _as_jpeg(color)
    return made


def _sheet(polygon: np.ndarray, side: int) -> Sheet:
    """The polygon, texels with y down, as a flat mesh."""
    whole = shapely.get_parts(shapely.make_valid(shapely.Polygon(polygon)))  # even-odd, as the raster
    parts = [t for one in whole if one.area > 0 for t in shapely.constrained_delaunay_triangles(one).geoms]
    corners = np.array([np.asarray(part.exterior.coords)[:3] for part in parts]).reshape(-1, 2)
    points, triangles = np.unique(corners, axis=0, return_inverse=True)
    flat = np.stack([points[:, 0] / side, 1 - points[:, 1] / side], axis=1)
    faces = triangles.reshape(-1, 3)
    a, b, c = (flat[faces[:, k]] for k in range(3))
    turned = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0] < 0
    faces[turned] = faces[turned][:, ::-1]
    return Sheet(np.column_stack([flat, np.zeros(len(flat))]), faces, flat)


def _as_jpeg(image: np.ndarray) -> np.ndarray:
    buffer = io.BytesIO()
    Image.fromarray(image).save(buffer, "JPEG", quality=92, subsampling=0)
    return np.asarray(Image.open(buffer))


def rules_of_paint(name: str = "furniture") -> RuleSet:
    """The rules of a shipped set whose checks look at pixels."""
    whole = read_rule_set(name)
    return replace(whole, rules=tuple(r for r in whole.rules if checks.get(r.check).needs & GROUPS))


def said(made: Case, rules: RuleSet, master: np.ndarray | None = None) -> tuple[Finding, ...]:
    """Findings on the case under the rules. master: merged picture of the base color's master, else the map itself."""
    prop = wearing(made.maps, *made.sheets)
    if made.ground == "jpeg":
        lossy = lambda m: replace(m, header=replace(m.header, lossy=m.slots == ("base_color",)))  # noqa: E731
        prop = replace(prop, maps=tuple(lossy(m) for m in prop.maps))
    flat = made.maps["base_color"]
    base = next(m for m in prop.maps if m.slots == ("base_color",))
    prop = replace(prop, masters=(Master("oak.psd", "oak.psd", replace(base.header, layers=3), base.path),))
    arrays = {f"oak_{slot}.png": image for slot, image in made.maps.items()}
    pictures = Pictures({**arrays, "oak.psd": flat if master is None else master})
    wanted = [rule.limits["texels"] for rule in rules.rules if rule.check == "bleed-too-narrow"]
    settings = {**SETTINGS, "bleed_texels": max(wanted, default=0)}
    facts = measure(prop, needs_of(rules, checks.get), settings, None, pictures)
    return judge(facts, rules, checks.get)[1]


def spoilt(seed: int) -> Iterator[tuple[str, str, Case, np.ndarray | None]]:
    """(what was done, check that should say so, the case, the master's picture) for one fault after another."""
    rng = np.random.default_rng(seed + 10**6)
    clean = case(seed)
    if clean.ground in ("ground", "jpeg"):
        yield "paint stops short", "bleed-too-narrow", case(seed, bleed=int(rng.integers(1, 3))), None
        holed = case(seed)
        sizes = np.bincount(holed.labels[holed.labels >= 0])
        inner = distance_transform_edt(holed.labels == int(sizes.argmax()))
        y, x = np.unravel_index(int(inner.argmax()), inner.shape)
        span = max(int(inner.max() / 2), 4)
        holed.maps["base_color"] = holed.maps["base_color"].copy()
        holed.maps["base_color"][y - span : y + span, x - span : x + span] = holed.color
        yield "a hole in an island", "unpainted-texels", holed, None
        turned = case(seed)
        turned.maps["base_color"] = np.ascontiguousarray(np.rot90(turned.maps["base_color"], int(rng.integers(1, 4))))
        yield "the map turned", "painted-for-another-layout", turned, None
    bent = case(seed)
    bent.maps["normal"] = np.rint(encode(bent.maps["normal"] / 255) * 255).astype(np.uint8)
    yield "normals through the curve", "broken-normal-map", bent, None
    twice = case(seed)
    twice.maps["roughness"] = twice.maps["base_color"]
    yield "color exported as roughness", "same-picture-twice", twice, None
    unsaved = case(seed)
    unsaved.maps["base_color"] = np.zeros_like(unsaved.maps["base_color"])
    yield "a black base color", "looks-unsaved", unsaved, None
    painted = clean.maps["base_color"].copy()
    painted[10:34, 20:44] = 255 - painted[10:34, 20:44]
    yield "the master painted on", "map-unlike-master", clean, painted


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--cases", type=int, default=2000)
    asked.add_argument("--first", type=int, default=0, help="number of the first case")
    asked.add_argument("--spoilt", type=int, default=300, help="how many cases are also spoilt")
    asked.add_argument("--set", default="furniture", help="shipped rule set")
    options = asked.parse_args()
    rules = rules_of_paint(options.set)
    levels: Counter[str] = Counter()
    named: Counter[str] = Counter()
    examples: dict[str, list[int]] = {}
    seeds = range(options.first, options.first + options.cases)
    for seed in seeds:
        found = said(case(seed), rules)
        levels.update({one.level for one in found})
        for one in {f"{one.level} {one.check}" for one in found}:
            named[one] += 1
            examples.setdefault(one, []).append(seed)
    for level in ("error", "warning", "note"):
        low, high = wilson(levels[level], options.cases)
        share = 100 * levels[level] / options.cases
        print(f"clean props with any false {level:8} {levels[level]:5} / {options.cases}  {share:6.2f} %  "
              f"[{100 * low:.2f}, {100 * high:.2f}]")  # fmt: skip
    for text, amount in named.most_common():
        print(f"  {text}: {amount}, cases {examples[text][:8]}")
    hits: Counter[str] = Counter()
    tries: Counter[str] = Counter()
    for seed in list(seeds)[: options.spoilt]:
        for what, check, made, master in spoilt(seed):
            tries[what] += 1
            hits[what] += any(one.check == check for one in said(made, rules, master))
    for what, amount in tries.items():
        low, high = wilson(hits[what], amount)
        print(f"{what:30} found {hits[what]:5} / {amount:<5} {100 * hits[what] / amount:6.2f} %  "
              f"[{100 * low:.2f}, {100 * high:.2f}]")  # fmt: skip


if __name__ == "__main__":
    main()
