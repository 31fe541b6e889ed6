"""A mistyped category or role is told, with the name that was meant; words of their own are left alone."""

from __future__ import annotations

import pytest

from tidegate.load.names_file import read_names
from tidegate.model.name_slips import slip_of

SCHEME = read_names()


@pytest.mark.parametrize(
    ("typed", "right"),
    [
        ("furnitur", "furniture"),  # one letter left out
        ("furnitture", "furniture"),  # one too many
        ("furniutre", "furniture"),  # two swapped
        ("Furnitur", "furniture"),
        ("handhold", ""),  # another letter: a word of its own
        ("furniture", ""),  # right
        ("furnit", ""),  # three letters away
        ("furnitreu", ""),  # swapped, but not neighbours
        ("", ""),
    ],
)
def test_slips(typed: str, right: str) -> None:
    assert slip_of(typed, ["handheld", "furniture"]) == right


def test_short_words_are_not_guessed_at() -> None:
    assert slip_of("lamps", ["lamp"]) == ""  # lamp has four letters


@pytest.mark.parametrize(
    ("name", "kind", "field", "proposal"),
    [
        ("furnitur_bench.glb", "mesh", "category", "furniture_bench.glb"),
        ("furniture_bench_colision.glb", "mesh", "role", "furniture_bench_collision.glb"),
    ],
)
def test_a_slip_in_a_name_fails_its_field(name: str, kind: str, field: str, proposal: str) -> None:
    reading = SCHEME.read(name, kind)
    assert [failing for failing, _ in reading.problems] == [field]
    assert reading.proposal == proposal


@pytest.mark.parametrize("name", ["handhold_rail.glb", "bench.glb", "furniture_bench.glb", "collision_marker.glb"])
def test_right_names_stay_right(name: str) -> None:
    assert SCHEME.read(name, "mesh").problems == ()


def test_a_known_asset_is_never_a_slip() -> None:
    assert SCHEME.read("furnitur_bench.glb", "mesh", assets=["furnitur_bench"]).problems == ()
