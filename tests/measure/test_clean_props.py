"""A few of the random drops of `clean_props.py`: no false word of a right one, each fault named, every feature really drawn."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from tests.measure.clean_props import clean, said
from tests.measure.random_drop import random_drop
from tests.measure.random_layout import SETS
from tests.measure.spoilt_props import FAULTS, tried

# Small changes, fine paint and strangers' layouts are not always found; the run of the module counts how often.
SURE = (
    "paint stops 0 to 3 texels past the edge",
    "an island moved by a whole tile",
    "base color all black, white, clear or one color",
    "normals put through the sRGB curve",
    "some other picture as normal map",
    "roughness saved as metalness",
    "master painted on in 24 x 24 texels",
    "guide layer shown in the master",
    "a map cut off, or empty",
)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("rule_set", SETS)
def test_a_right_drop_has_no_false_error_and_no_false_warning(seed: int, rule_set: str) -> None:
    false = clean((seed, rule_set))[3]
    assert [one for one in false if one[0] != "note"] == []


@pytest.mark.parametrize("name", SURE)
def test_each_fault_is_named(name: str) -> None:
    assert tried(2, name, said).named


def test_what_is_drawn_really_occurs() -> None:
    """Every texture, ground and way of lying, in a few dozen drops."""
    drawn: Counter[str] = Counter()
    for seed in range(12):
        for rule_set in SETS:
            drawn.update(random_drop(seed, rule_set).layout.drawn)
    wanted = ["texture " + kind for kind in ("smooth", "noisy", "striped", "panelled", "spectrum", "even")]
    wanted += ["ground " + kind for kind in ("ground", "carried", "spread", "canvas", "jpeg", "none")]
    wanted += [
        "halves meet in the tile",
        "cut by a seam",
        "outline turned",
        "island turned by quarters",
        "island mirrored",
    ]
    wanted += ["mirrored twin in a stack", "leaves the tile"]
    assert [name for name in wanted if not drawn[name]] == []


def test_paint_goes_on_across_a_seam_of_an_island_that_lies_turned() -> None:
    """Both halves of a cut read one picture at one place of the surface, so what lies on the cut is equal on both sides."""
    made = next(
        one
        for one in (random_drop(seed, "building_part", ground="spread", seams=True) for seed in range(50))
        if one.kind == "smooth" and not one.layout.repeats and one.layout.islands[one.layout.seam].turn[0, 0] < 0.5
    )
    second = made.layout.islands[made.layout.seam]
    first = next(one for one in made.layout.islands if one.sheet == second.sheet)
    cut = [p for p in second.shape if np.abs(first.shape - p).max(axis=1).min() < 1e-9]
    middle = np.mean(cut, axis=0)
    values = []
    for one in (first, second):
        x, y = np.floor(one.turn @ middle + one.move).astype(int)
        values.append(made.maps["base_color"][y, x].astype(int))
    assert np.abs(values[0] - values[1]).max() <= 12


def test_there_is_a_fault_for_every_check_of_paint() -> None:
    assert {one.check for one in FAULTS.values()} >= {
        "bleed-too-narrow",
        "unpainted-texels",
        "painted-for-another-layout",
        "seam-visible",
        "looks-unsaved",
        "broken-normal-map",
        "same-picture-twice",
        "color-in-data",
        "map-unlike-master",
        "guide-left-in-master",
        "guide-lines-left",
        "unlikely-albedo",
        "half-metal",
        "lifeless-roughness",
        "coarse-height",
        "grey-stored-as-color",
    }
