"""Mistyped words."""

import pytest

from tidegate.model.nearest import did_you_mean, nearest

CHECKS = ("missing-map", "missing-master", "texel-density-out-of-range", "tilted-islands", "mirrored-islands")


@pytest.mark.parametrize(
    ("word", "right"),
    [
        ("missing-mp", "missing-map"),
        ("missing_map", "missing-map"),
        ("Missing Map", "missing-map"),
        ("titled-islands", "tilted-islands"),
        ("density", "texel-density-out-of-range"),
        ("mirrored", "mirrored-islands"),
        ("xyzzy", ""),
        ("", ""),
        ("-", ""),
        ("in", ""),
    ],
)
def test_nearest(word: str, right: str):
    assert nearest(word, CHECKS) == right


def test_order_of_the_words_decides_nothing():
    # Both differ from the word by one letter of four; the first in the alphabet is taken.
    assert nearest("rope", ["rose", "role"]) == nearest("rope", ["role", "rose"]) == "role"


def test_a_word_that_is_begun_goes_before_one_that_is_only_fairly_alike():
    # "quiet" shares more of its letters with "unit" (q-u-i-t in order: 2 x 3 of 9) than with "quietseconds" (2 x 5 of 17).
    assert nearest("quiet", ["unit", "quiet_seconds"]) == "quiet_seconds"
    # Two are begun: neither is meant more than the other, and the more alike one is taken.
    assert nearest("quiet", ["unit", "quiet_seconds", "quiet_minutes"]) == "unit"


def test_without_words():
    assert nearest("rope", []) == ""
    assert did_you_mean("rope", []) == ""


def test_help_names_the_nearest_or_the_few_or_nothing():
    assert did_you_mean("rol", ["role", "mesh"]) == "did you mean `role`?"
    assert did_you_mean("xyzzy", ["role", "mesh"]) == "known here: `mesh`, `role`"
    assert did_you_mean("xyzzy", [f"word{i}" for i in range(13)]) == ""
