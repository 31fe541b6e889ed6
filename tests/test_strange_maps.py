"""Maps of other layouts on the disk: two props of one drop with their maps swapped, and the version delivered before."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
from PIL import Image

from tests.support.gltf_writer import GltfBuilder, write_glb
from tests.support.painted_props import paint
from tidegate import Finding, Terms, examine, list_drop, read_names
from tidegate.passage import take_through

CHECK = "painted-for-another-layout"
SCHEME = read_names()
TERMS = Terms(scheme=SCHEME, rule_set="furniture", forced_set=True)
LAYOUTS = {
    "net_rack": ((40, 40, 200, 220), (260, 60, 460, 400)),
    "tide_lamp": ((30, 250, 280, 480), (320, 20, 480, 140), (350, 240, 420, 470)),
}
SIDE = 512


def write(drop: Path, name: str, *, mesh_of: str = "", paint_of: str = "") -> None:
    boxes = LAYOUTS[mesh_of or name]
    drop.mkdir(parents=True, exist_ok=True)
    build = GltfBuilder()
    material = build.material(f"{name}_wood", base_color=f"{name}_base_color.png")
    points: list[Any] = []
    uvs: list[Any] = []
    for number, (x0, y0, x1, y1) in enumerate(boxes):
        for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1)):
            points.append((x / 512 + number, y / 512, 0.0))
            uvs.append((x / SIDE, y / SIDE))
    faces = [(4 * n + a, 4 * n + b, 4 * n + c) for n in range(len(boxes)) for a, b, c in ((0, 1, 2), (0, 2, 3))]
    build.mesh(name, np.float32(points), np.array(faces), uvs=[np.float32(uvs)], material=material)
    write_glb(drop / f"furniture_{name}.glb", build)
    image = paint(LAYOUTS[paint_of or name], bleed=8, ground=20, size=SIDE)
    Image.fromarray(image).save(drop / f"{name}_base_color.png")


def told(verdicts: Any) -> dict[str, list[Finding]]:
    return {verdict.prop: [f for f in verdict.findings if f.check == CHECK] for verdict in verdicts}


def test_two_props_of_one_drop_with_their_maps_swapped(tmp_path: Path) -> None:
    drop = tmp_path / "shipment"
    write(drop, "net_rack", paint_of="tide_lamp")
    write(drop, "tide_lamp", paint_of="net_rack")
    found = told(examine(list_drop(drop, SCHEME), TERMS))
    assert sorted(found) == ["net_rack", "tide_lamp"]
    assert [(one.certain, "of tide_lamp" in one.message) for one in found["net_rack"]] == [(True, True)]
    assert [(one.certain, "of net_rack" in one.message) for one in found["tide_lamp"]] == [(True, True)]


def test_two_right_props_of_one_drop(tmp_path: Path) -> None:
    for name in LAYOUTS:
        write(tmp_path / "shipment", name)
    assert told(examine(list_drop(tmp_path / "shipment", SCHEME), TERMS)) == {"net_rack": [], "tide_lamp": []}


class Delivered:
    """The delivery tree with one version in it."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.asked = folder, []

    def newest(self, place: tuple[str, ...], name: str) -> tuple[Path, Any]:
        self.asked.append((place, name))
        return self.folder, SimpleNamespace(named="")  # a record that does not say how its files spell the name

    def refusal(self, *_: object) -> None:
        return None


class Context:
    drop, ticket, gate, redrop, left_behind, near, reports = "shipment", "t", "g", None, (), "", frozenset()
    claimed_at = ""

    def __init__(self, deliveries: Delivered) -> None:
        self.deliveries = deliveries


def test_the_map_of_the_version_delivered_before(tmp_path: Path) -> None:
    """The layout was made anew, the map is the old one: the old layout lies in the delivery tree."""
    write(tmp_path / "v001", "net_rack")
    drop = tmp_path / "shipment"
    write(drop, "net_rack", mesh_of="tide_lamp", paint_of="net_rack")
    deliveries = Delivered(tmp_path / "v001")
    (outcome,) = take_through(drop, Context(deliveries), TERMS)
    text = dict(outcome.sidecars)["net_rack.tidegate.txt"].decode()
    assert "of those of the version delivered before" in " ".join(text.split())
    assert set(deliveries.asked) == {(("furniture",), "net_rack")}


def test_a_delivered_version_that_is_gone_only_costs_the_comparison(tmp_path: Path) -> None:
    drop = tmp_path / "shipment"
    write(drop, "net_rack", mesh_of="tide_lamp", paint_of="net_rack")
    (outcome,) = take_through(drop, Context(Delivered(tmp_path / "gone")), TERMS)
    text = dict(outcome.sidecars)["net_rack.tidegate.txt"].decode()
    assert "may be painted for another layout" in " ".join(text.split())
