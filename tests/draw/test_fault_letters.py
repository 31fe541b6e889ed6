"""Letters, rings and hatches of a fault sheet: on all that is named, and on nothing else."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from tests.draw.laid_out import Panel, panel_facts
from tidegate import checks
from tidegate.draw.fault_layout import draw_layout
from tidegate.draw.fault_letters import MOST_LED, place_letters
from tidegate.draw.fault_sheet import fault_sheets
from tidegate.draw.labels import Label, overlap
from tidegate.draw.legend import NOT_DRAWABLE, Entry, blocks
from tidegate.draw.marks import Mark, marks_on, style_of
from tidegate.draw.palette import INK
from tidegate.draw.placed import place
from tidegate.draw.rings import small_spots
from tidegate.model.check import Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place, Shown
from tidegate.model.letters import lettered
from tidegate.model.selection import island_place
from tidegate.model.view import layout_view

SIZE = 1024


def grid(across: int, side: float) -> list[Panel]:
    step = 1 / across
    return [
        Panel(x * step + 0.01, y * step + 0.01, x * step + 0.01 + side, y * step + 0.01 + side)
        for x, y in itertools.product(range(across), range(across))
    ]


def on(facts: Facts, *islands: int, **shown: object) -> Finding:
    rows = np.array(islands) - 1
    place = island_place(facts, facts.pictures[0], rows)
    # `shown` holds fields of Shown by their names; mypy sees one type for all of them.
    return Finding("tilted-islands", "error", "turned", place, shown=Shown(**shown))  # type: ignore[arg-type]


def labels_of(facts: Facts, findings: tuple[Finding, ...], monkeypatch: pytest.MonkeyPatch) -> list[Label]:
    kept: list[Label] = []

    def keep(*args: object) -> list[Label]:
        # It hands on whatever it is given, and mypy sees one type for all of it.
        kept[:] = place_letters(*args)  # type: ignore[arg-type]
        return kept

    monkeypatch.setattr("tidegate.draw.fault_layout.place_letters", keep)
    draw_layout(facts, facts.pictures[0], marks_on(facts, facts.pictures[0], findings), SIZE)
    return kept


def test_every_island_carries_all_its_letters_and_its_number(monkeypatch: pytest.MonkeyPatch) -> None:
    # 64 islands of 0.06 of the tile are 57 pixels a side: letters and number stand on one plate.
    facts = panel_facts(*grid(8, 0.06), size=(1024, 1024))
    first, second = range(1, 60, 3), range(1, 60, 2)
    findings = lettered([on(facts, *first), on(facts, *second)])
    labels = {label.row: label for label in labels_of(facts, findings, monkeypatch)}
    wanted = {n - 1: " ".join(["A"] * (n in first) + ["B"] * (n in second)) for n in {*first, *second}}
    assert {row: " ".join(label.lines) for row, label in labels.items()} == wanted
    assert facts.islands is not None
    view = layout_view(facts, facts.pictures[0], SIZE)
    for row, label in labels.items():
        assert row is not None and label.number == str(row + 1)
        u0, v0, u1, v1 = facts.islands.bounds[row]
        x0, y0, x1, y1 = view.box((u0, v0, u1, v1))
        assert x0 <= label.box[0] and y0 <= label.box[1] and label.box[2] <= x1 and label.box[3] <= y1
    for one, other in itertools.combinations(labels.values(), 2):
        assert not overlap(one.box, other.box)


def test_islands_too_small_have_their_letters_beside_them_and_of_many_the_rest_is_counted() -> None:
    facts = panel_facts(*grid(10, 0.008), size=(1024, 1024))
    picture = facts.pictures[0]
    # Rows of 10 upwards. The layout is 1.08 wide, so its quarters end at 0.23, 0.5 and 0.77: columns 0-2, 3-4, 5-7, 8-9.
    # 25 islands are two columns and a half, all in the first quarter across and in four quarters upwards.
    for count, without in ((MOST_LED, 0), (25, 25 - 4), (100, 100 - 16)):
        findings = lettered([on(facts, *range(1, count + 1))])
        drawn = draw_layout(facts, picture, marks_on(facts, picture, findings), SIZE)
        assert drawn.unlettered == without


def test_islands_right_on_each_other_have_their_letters_once_and_all_count(monkeypatch: pytest.MonkeyPatch) -> None:
    side = Panel(0.2, 0.2, 0.21, 0.21)
    facts = panel_facts(side, side, side, Panel(0.6, 0.6, 0.8, 0.8), size=(1024, 1024))
    findings = lettered([on(facts, 1, 2, 3), on(facts, 3)])
    labels = labels_of(facts, findings, monkeypatch)
    assert sorted((label.row, label.stacked, label.lines) for label in labels) == [(0, (1,), ("A",)), (2, (), ("A B",))]
    drawn = draw_layout(facts, facts.pictures[0], marks_on(facts, facts.pictures[0], findings), SIZE)
    assert drawn.unlettered == 0


def test_of_many_small_islands_every_letter_stands_somewhere(monkeypatch: pytest.MonkeyPatch) -> None:
    facts = panel_facts(*grid(10, 0.008), size=(1024, 1024))
    findings = lettered([on(facts, n, n % 100 + 1) for n in range(1, 81)])
    labels = labels_of(facts, findings, monkeypatch)
    assert {letter for label in labels for letter in " ".join(label.lines).split()} == {f.letter for f in findings}
    for one, other in itertools.combinations(labels, 2):
        assert not overlap(one.box, other.box)


def test_letters_beside_small_islands_cover_no_island(monkeypatch: pytest.MonkeyPatch) -> None:
    facts = panel_facts(*grid(6, 0.02), size=(1024, 1024))
    view = layout_view(facts, facts.pictures[0], SIZE)
    assert facts.islands is not None
    islands = [view.box(tuple(bounds)) for bounds in facts.islands.bounds.tolist()]
    labels = labels_of(facts, lettered([on(facts, *range(1, 25))]), monkeypatch)
    assert len(labels) == MOST_LED
    for label, (x0, y0, x1, y1) in itertools.product(labels, islands):
        assert not overlap(label.box, (int(x0), int(y0), int(x1) + 1, int(y1) + 1))


def test_no_letter_is_cut_off_by_the_part_that_a_page_shows(monkeypatch: pytest.MonkeyPatch) -> None:
    facts = panel_facts(*grid(4, 0.01), Panel(0.6, 0.6, 0.9, 0.9), size=(1024, 1024))
    map_place = Place(map="fish_crate_base_color.png")
    findings = lettered([on(facts, 1, 5), on(facts, 17), Finding("x", "error", "x", map_place)])
    kept = labels_of(facts, findings, monkeypatch)
    places = draw_layout(facts, facts.pictures[0], marks_on(facts, facts.pictures[0], findings), SIZE).places
    assert len(kept) == 4
    for label in kept:
        for letter in " ".join(label.lines).split():
            x0, y0, x1, y1 = places[letter]
            assert x0 <= label.box[0] and y0 <= label.box[1] and label.box[2] <= x1 and label.box[3] <= y1


def around(facts: Facts, wide: float, high: float) -> list[tuple[float, float, float, float]]:
    """The rings of a finding on islands 1 and 2 about a box of so many pixels at 0.4, 0.4."""
    picture = facts.pictures[0]
    view = layout_view(facts, picture, SIZE)
    across, up = view.scale
    box = (0.4, 0.4, 0.4 + wide / across, 0.4 + high / up)
    (mark,) = marks_on(facts, picture, [on(facts, 1, 2, shared=True, around=(box,))])
    spots = small_spots(view, [mark], np.full((2, 4), [0.0, 0.0, 500.0, 500.0]), place(facts, picture, view), SIZE)
    assert all(spot.lettered for spot in spots)
    return [spot.box for spot in spots]


BIG = (Panel(0.1, 0.1, 0.5, 0.5), Panel(0.45, 0.1, 0.9, 0.5))


def test_a_place_gets_a_ring_where_it_is_small_or_thin() -> None:
    # 1024 / 22 = 46.5 pixels, 1024 / 170 = 6.02 pixels.
    facts = panel_facts(*BIG, size=(1024, 1024))
    assert len(around(facts, 46.0, 46.0)) == 1 and around(facts, 47.0, 47.0) == []
    ((x0, y0, x1, y1),) = around(facts, 300.0, 6.0)
    assert (x1 - x0, y1 - y0) == (0, 0)  # about its middle
    left, top = layout_view(facts, facts.pictures[0], SIZE).pixel(0.4, 0.4)
    assert (x0, y0) == (pytest.approx(left + 150), pytest.approx(top - 3))
    assert around(facts, 300.0, 6.1) == []


@pytest.mark.parametrize(
    ("count", "pixels", "rings"), [(12, 46.0, 12), (12, 47.0, 0), (13, 46.0, 0), (13, 6.0, 12), (13, 6.1, 0)]
)
def test_of_many_islands_only_those_that_would_not_be_seen_are_circled(count: int, pixels: float, rings: int) -> None:
    # 1024 / 22 = 46.5 pixels, 1024 / 170 = 6.02 pixels; 12 rings a finding at most.
    facts = panel_facts(*grid(4, 0.02), size=(1024, 1024))
    picture = facts.pictures[0]
    view = layout_view(facts, picture, SIZE)
    (mark,) = marks_on(facts, picture, [on(facts, *range(1, count + 1))])
    boxes = np.full((16, 4), [100.0, 100.0, 100.0 + pixels, 101.0])
    assert len(small_spots(view, [mark], boxes, place(facts, picture, view), SIZE)) == rings


@pytest.mark.parametrize(("texels", "rings"), [(2, 1), (100, 0)])
def test_a_tiny_overlap_is_circled(texels: int, rings: int) -> None:
    edge = 0.5 - texels / 1024
    facts = panel_facts(Panel(0.1, 0.1, 0.5, 0.5), Panel(edge, 0.1, 0.9, 0.5), size=(1024, 1024), needs=ALL_OF_OVERLAP)
    limits = {"allowed_texels": 0, "near_texels": 4.0, "wrap": False, "allow_stacks": False}
    (found,) = checks.get("overlapping-islands").run(facts, limits, Scope())
    ((u0, v0, u1, v1),) = found.shown.around
    assert u0 == pytest.approx(edge, abs=2 / 1024) and u1 == pytest.approx(0.5, abs=2 / 1024)
    assert v0 == pytest.approx(0.1, abs=2 / 1024) and v1 == pytest.approx(0.5, abs=2 / 1024)
    picture = facts.pictures[0]
    view = layout_view(facts, picture, SIZE)
    marks = marks_on(facts, picture, [found])
    spots = small_spots(view, marks, np.full((2, 4), [0.0, 0.0, 500.0, 500.0]), place(facts, picture, view), SIZE)
    assert len(spots) == rings


ALL_OF_OVERLAP = ("islands", "coverage", "spacing", "unfolding")


def hatched(sheet: np.ndarray, facts: Facts, u: float, v: float) -> float:
    """How much of a patch about a place of the tile has the color of the first finding."""
    view = layout_view(facts, facts.pictures[0], SIZE)
    x, y = (round(at) for at in view.pixel(u, v))
    patch = sheet[view.top + y - 20 : view.top + y + 20, view.left + x - 20 : view.left + x + 20]
    return float((patch == style_of(0)[0]).all(axis=2).mean())


def test_faces_are_hatched_where_they_lie_and_no_corner_is_circled() -> None:
    # Panel 1 has four quads across, so its triangles 2 and 3 are the second quarter; panel 2 begins at triangle 8.
    facts = panel_facts(Panel(0.1, 0.1, 0.5, 0.4, cells=4), Panel(0.6, 0.1, 0.9, 0.4), size=(1024, 1024))
    there = Place(mesh="crate", point=(0.0, 0.0, 0.0))
    finding = Finding("doubled-triangles", "error", "x", there, shown=Shown(faces=((0, 2, 4), (0, 8, 9))))
    (mark,) = marks_on(facts, facts.pictures[0], [finding])
    assert mark.rows.tolist() == [0, 1] and mark.points == ()
    (sheet,) = fault_sheets(facts, lettered([finding]), SIZE)
    drawn = np.asarray(sheet.picture)
    assert hatched(drawn, facts, 0.25, 0.15) > 0.05 and hatched(drawn, facts, 0.85, 0.15) > 0.05
    assert hatched(drawn, facts, 0.45, 0.15) == hatched(drawn, facts, 0.15, 0.15) == 0
    assert hatched(drawn, facts, 0.65, 0.35) == 0  # the other half of panel 2


def test_faces_too_small_to_be_seen_are_circled() -> None:
    facts = panel_facts(Panel(0.1, 0.1, 0.9, 0.12, cells=32), size=(1024, 1024))
    picture = facts.pictures[0]
    view, placed = layout_view(facts, picture, SIZE), place(facts, picture, layout_view(facts, picture, SIZE))
    finding = Finding("doubled-triangles", "error", "x", Place(mesh="crate"), shown=Shown(faces=((0, 4, 5),)))
    (mark,) = marks_on(facts, picture, [finding])
    ((spot),) = small_spots(view, [mark], np.zeros((1, 4)), placed, SIZE)
    # Triangle 4 is half of the third of 32 quads: from 2/32 to 3/32 of 0.8 across.
    x0, _, x1, _ = view.box((0.15, 0.1, 0.175, 0.12))
    assert (spot.box[0], spot.box[2]) == (pytest.approx(x0), pytest.approx(x1)) and spot.lettered
    whole = replace(mark, faces=((0, 0, 64),))
    assert small_spots(view, [whole], np.zeros((1, 4)), placed, SIZE) == []


def test_one_texel_that_is_named_is_circled_in_place_of_the_box_about_all() -> None:
    facts = panel_facts(Panel(0.25, 0.25, 0.75, 0.75), size=(1024, 1024))
    there = replace(on(facts, 1).place, map="fish_crate_base_color.png", pixel_box=(250, 250, 770, 770))
    bare = Finding("bleed-too-narrow", "error", "x", there, shown=Shown(texel=(300, 252)))
    (mark,) = marks_on(facts, facts.pictures[0], [bare])
    assert mark.boxes == () and mark.around == ((300 / 1024, 1 - 253 / 1024, 301 / 1024, 1 - 252 / 1024),)
    (plain,) = marks_on(facts, facts.pictures[0], [replace(bare, shown=Shown())])
    assert plain.around == () and len(plain.boxes) == 1


def test_no_letter_stands_on_the_ring_about_a_texel(monkeypatch: pytest.MonkeyPatch) -> None:
    # Two upright strips with 0.01 between them, and the texel to look at between their middles, where their letters would be.
    facts = panel_facts(Panel(0.2, 0.1, 0.24, 0.7), Panel(0.25, 0.1, 0.29, 0.7), size=(1024, 1024))
    there = replace(on(facts, 1, 2).place, map="fish_crate_base_color.png", pixel_box=(200, 300, 300, 900))
    x, y = 251, round(0.6 * 1024)
    bare = Finding("bleed-too-narrow", "error", "x", there, shown=Shown(texel=(x, y)))
    view = layout_view(facts, facts.pictures[0], SIZE)
    across, down = view.pixel(x / 1024, 1 - y / 1024)
    labels = labels_of(facts, lettered([bare]), monkeypatch)
    assert len(labels) == 3
    reach = SIZE // 90  # the ring reaches 1/80 of the layout from its texel on
    assert not any(
        overlap(label.box, (int(across) - reach, int(down) - reach, int(across) + reach, int(down) + reach))
        for label in labels
    )


def told(finding: Finding, *, marked: bool = False) -> list[str]:
    (block,) = blocks([("", [Entry("A", finding, style_of(0)[0], "rising", marked)])], 16, 400)
    return [line.text for line in block.lines]


def test_faces_without_a_place_on_the_layout_are_said_to_be_not_drawable() -> None:
    lost = Finding("uvs-missing", "error", "2 triangles with UVs", Place(mesh="crate", uv_layer=0))
    assert NOT_DRAWABLE in told(lost) and NOT_DRAWABLE not in told(lost, marked=True)
    assert NOT_DRAWABLE not in told(Finding("missing-map", "error", "no map", Place(material="planks")))


def lone(letter: str) -> Mark:
    return Mark(Finding("x", "error", "x"), letter, INK, "rising", np.zeros(0, np.int64))


def test_a_mark_without_faces_has_none() -> None:
    facts = panel_facts(*BIG)
    placed = place(facts, facts.pictures[0], layout_view(facts, facts.pictures[0], SIZE))
    assert not lone("A").faces_in(placed).any() and lone("A").face_boxes(placed) == []
