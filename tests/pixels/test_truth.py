"""The aims over a few dozen random cases; `python -m tests.pixels.truth --cases 500` runs the many."""

import pytest

from tests.pixels.truth import run


@pytest.fixture(scope="module")
def tally():
    return run(14)


def test_bleed_is_exact_to_the_texel(tally):
    assert tally.rows["bleed exact to the texel, by the definition"][1] > 50
    assert tally.share("bleed exact to the texel, by the definition") >= 0.99
    assert tally.share("short bleed found") == 1.0


def test_unpainted_texels_are_counted_exactly(tally):
    assert tally.share("unpainted texels counted exactly") == 1.0


@pytest.mark.parametrize(
    ("fault", "least"),
    [
        ("turned or mirrored map: found", 0.85),
        ("turned or mirrored map: the right one named, if found", 0.9),
        ("map moved by a sixth of the tile or more: found", 0.9),
        ("another prop's map, its layout at hand: found", 0.75),
        ("normal map encoded by the curve: found", 1.0),
        ("normal map decoded by the curve: found", 1.0),
        ("base color in the normal slot: found", 1.0),
        ("master repainted in 24 x 24 texels: found, same size", 1.0),
        ("master repainted in 24 x 24 texels: found, half size", 0.95),
        ("guide layer visible in the master: named, same size", 1.0),
        ("map of one colour: found", 1.0),
    ],
)
def test_faults_are_found(tally, fault, least):
    assert tally.share(fault) >= least


def test_right_props_are_left_alone(tally):
    # every one of them: the 500-case run has no false error in these detectors either
    assert tally.share("clean prop without any false error") == 1.0
