"""Faults of the mesh that explain others."""

from __future__ import annotations

from tidegate.judge.causes import under_causes
from tidegate.model.finding import Finding, Place

PLACE = Place(file="crate.glb")


def test_a_prop_on_its_side_explains_its_size_and_its_tilted_islands() -> None:
    side = Finding("up-axis-doubtful", "warning", "the prop lies on its side", PLACE)
    off = Finding("size-off-order", "error", "height is 50 cm, ordered was 2 m", PLACE)
    tilted = Finding(
        "tilted-islands", "error", "12 islands tilted", Place(file="crate.glb", map="crate_base_color.png")
    )
    found = under_causes([side, off, tilted])
    assert [(one.check, one.level, one.cause) for one in found] == [
        ("up-axis-doubtful", "error", ""),  # a cause is as grave as what follows from it
        ("size-off-order", "error", "up-axis-doubtful"),
        ("tilted-islands", "error", "up-axis-doubtful"),
    ]


def test_what_is_only_suspected_explains_nothing() -> None:
    side = Finding("up-axis-doubtful", "note", "cannot tell which axis points up", PLACE, certain=False)
    tilted = Finding("tilted-islands", "error", "12 islands tilted", PLACE)
    assert [one.cause for one in under_causes([side, tilted])] == ["", ""]


def test_what_is_only_suspected_is_named_in_the_help() -> None:
    side = Finding("up-axis-doubtful", "note", "cannot tell which axis points up", PLACE, certain=False)
    tilted = Finding(
        "tilted-islands", "error", "12 islands tilted", PLACE, help="turn island 2 by 90 degrees clockwise"
    )
    helps = [one.help for one in under_causes([side, tilted])]
    assert helps == ["", "if Z is up, turn the model first; else turn island 2 by 90 degrees clockwise"]
    for others in ([], [Finding("pivot-out-of-place", "note", "m", PLACE, certain=False)]):
        assert under_causes([*others, tilted])[-1].help == tilted.help


def test_copies_explain_the_edges_they_crowd() -> None:
    copies = Finding("doubled-triangles", "warning", "3 triangles on the corners of another one", PLACE)
    crowded = Finding("crowded-edges", "note", "5 edges with more than two triangles", PLACE)
    assert [one.cause for one in under_causes([copies, crowded])] == ["", "doubled-triangles"]


def test_a_level_without_uvs_is_painted_nowhere() -> None:
    lost = Finding("uvs-missing", "error", "no UV layer 0", Place(file="crate.glb", role="lod1"))
    for role, cause in (("lod1", "uvs-missing"), ("lod2", "")):
        level = Finding("level-of-detail-repainted", "warning", "lacks layer 0", Place(file="crate.glb", role=role))
        assert [one.cause for one in under_causes([lost, level])] == ["", cause]
