"""Fault sheets: every finding is on them, nothing lies on anything else, and nothing is cut off."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from tests.draw.laid_out import Panel, panel_facts
from tidegate import checks
from tidegate.draw import fault_layout, fault_sheet
from tidegate.draw.fault_sheet import about, fault_sheets, model_first
from tidegate.draw.labels import Label, overlap
from tidegate.draw.legend import Block, Column, Entry, flow
from tidegate.draw.marks import marks_on, style_of
from tidegate.draw.palette import ISLAND, PAPER
from tidegate.draw.sidecars import draw_sidecars
from tidegate.draw.text import width_of, wrapped
from tidegate.model.check import Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import LEVELS, Finding, Place, Shown
from tidegate.model.letters import lettered
from tidegate.model.picture_places import places_in
from tidegate.model.selection import island_place
from tidegate.model.view import layout_view

GRID = tuple(
    Panel(x / 10 + 0.01, y / 10 + 0.01, x / 10 + 0.085, y / 10 + 0.085, mirrored=(x + y) % 7 == 0)
    for x, y in itertools.product(range(10), range(10))
)


def finding_on(
    facts: Facts, *islands: int, check: str = "tilted-islands", level: str = "error", shared: bool = False
) -> Finding:
    rows = np.array(islands) - 1
    picture = next(p for p in facts.pictures if rows[0] in p.islands)
    said = "island turned " + "by a lot " * 8
    return Finding(check, level, said, island_place(facts, picture, rows), help="turn it", shown=Shown(shared=shared))


def a_hundred(facts: Facts) -> tuple[Finding, ...]:
    """Findings on one island and on several, and some that lie nowhere."""
    found = []
    for k in range(100):
        others = [k * 7 % 100 + 1, k * 13 % 100 + 1] if k % 5 == 0 else []
        check = ("mirrored-islands", "overlapping-islands", "tilted-islands")[k % 3]
        if k % 17 == 16:
            found.append(Finding("missing-map", LEVELS[k % 3], f"map {k} is missing", Place(), help="add it"))
        else:
            islands = sorted({k + 1, *others})
            found.append(finding_on(facts, *islands, check=check, level=LEVELS[k % 3], shared=k % 3 == 1))
    return lettered(found)


class Drawn:
    """What was placed while a sheet was drawn."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.labels: list[Label] = []
        self.blocks: list[tuple[int, int, Block]] = []
        place_letters, flow = fault_layout.place_letters, fault_sheet.flow

        def letters_kept(*args: object) -> list[Label]:
            self.labels = place_letters(*args)
            return self.labels

        def blocks_kept(*args: object) -> list[tuple[int, int, Block]]:
            self.blocks = flow(*args)
            return self.blocks

        monkeypatch.setattr(fault_layout, "place_letters", letters_kept)
        monkeypatch.setattr(fault_sheet, "flow", blocks_kept)

    def letters(self) -> set[str]:
        return {letter for label in self.labels for line in label.lines for letter in line.split()}


@pytest.fixture
def drawn(monkeypatch: pytest.MonkeyPatch) -> Drawn:
    return Drawn(monkeypatch)


@pytest.mark.parametrize("size", [512, 1100])
def test_a_hundred_findings_find_room(drawn: Drawn, size: int) -> None:
    facts = panel_facts(*GRID, size=(1024, 1024))
    findings = a_hundred(facts)
    (sheet,) = fault_sheets(facts, findings, size)
    view = layout_view(facts, facts.pictures[0], size)
    placed = {finding.letter for finding in findings if finding.place.islands}
    assert drawn.letters() == placed
    for one, other in itertools.combinations(drawn.labels, 2):
        assert not overlap(one.box, other.box)
    for label in drawn.labels:
        assert label.box[0] >= 0 and label.box[1] >= 0 and label.box[2] <= view.width and label.box[3] <= view.height
    width, height = sheet.picture.size
    column = 31 * max(12, round(size / 66))
    boxes = [(x, y, x + column, y + block.height) for x, y, block in drawn.blocks]
    assert [block.entry.letter for _, _, block in drawn.blocks if block.entry] == [
        *(f.letter for f in findings if f.place.islands),
        *(f.letter for f in findings if not f.place.islands),
    ]
    layout = (view.left, view.top, view.left + view.width, view.top + view.height)
    for one, other in itertools.combinations([*boxes, layout], 2):
        assert not overlap(one, other)
    assert all(x0 >= 0 and y0 >= 0 and x1 <= width and y1 <= height for x0, y0, x1, y1 in boxes)


def test_a_marked_island_looks_different_from_others_in_a_picture_without_color() -> None:
    facts = panel_facts(Panel(0.05, 0.05, 0.45, 0.45), Panel(0.55, 0.55, 0.95, 0.95))
    findings = lettered([finding_on(facts, 2)])
    (sheet,) = fault_sheets(facts, findings, 512)
    grey = np.asarray(sheet.picture.convert("L")).astype(int)
    x0, y0, x1, y1 = sheet.places["A"]
    marked = grey[y0 + 8 : y1 - 8, x0 + 8 : x1 - 8]
    view = layout_view(facts, facts.pictures[0], 512)
    u0, v1 = view.pixel(0.1, 0.1)
    plain = grey[int(view.top + v1) - 40 : int(view.top + v1), int(view.left + u0) : int(view.left + u0) + 40]
    assert plain.std() < 2
    assert marked.std() > 20


def test_neighbouring_findings_differ_in_hatch_and_in_color() -> None:
    styles = [style_of(number) for number in range(42)]
    assert len(set(styles)) == 42
    for (color, hatch), (next_color, next_hatch) in itertools.pairwise(styles):
        assert color != next_color and hatch != next_hatch


def test_the_box_of_a_letter_frames_its_island() -> None:
    facts = panel_facts(Panel(0.25, 0.5, 0.5, 0.75), Panel(0.6, 0.6, 0.9, 0.9), size=(1024, 1024))
    (sheet,) = fault_sheets(facts, lettered([finding_on(facts, 1)]), 1024)
    # The view shows 1.08 tiles, 1024 pixels a side: 948.1 a tile, with 0.04 of a tile on every side.
    view = layout_view(facts, facts.pictures[0], 1024)
    scale = 1024 / 1.08
    wanted = (
        view.left + (0.04 + 0.25) * scale,
        view.top + (1.04 - 0.75) * scale,
        view.left + (0.04 + 0.5) * scale,
        view.top + (1.04 - 0.5) * scale,
    )
    assert sheet.places["A"] == pytest.approx(wanted, abs=1.01)


@pytest.mark.parametrize("tiles", [(), (1001,)])
def test_what_comes_in_again_over_the_border_is_outlined_where_it_does(tiles: tuple[int, ...]) -> None:
    # 0.75 to 1.2 across: on a map that repeats, the last 0.2 come in again on the left.
    others = [Panel(0.5, 0.1 + 0.2 * k, 0.6, 0.2 + 0.2 * k) for k in range(3)]
    facts = panel_facts(Panel(0.75, 0.4, 1.2, 0.6), *others, tiles=tiles, size=(1024, 1024))
    (sheet,) = fault_sheets(facts, lettered([finding_on(facts, 1)]), 1024)
    view = layout_view(facts, facts.pictures[0], 1024)
    picture = np.asarray(sheet.picture)
    x, y = (round(at) for at in view.pixel(0.2, 0.5))
    strip = picture[view.top + y - 60 : view.top + y + 60, view.left + x - 3 : view.left + x + 4]
    assert ((strip != PAPER).any(axis=2).any()) == (not tiles)


def test_the_shared_part_of_an_overlap_is_filled() -> None:
    facts = panel_facts(Panel(0.1, 0.1, 0.5, 0.5), Panel(0.3, 0.3, 0.7, 0.7), size=(1024, 1024))
    (sheet,) = fault_sheets(facts, lettered([finding_on(facts, 1, 2, shared=True)]), 1024)
    view = layout_view(facts, facts.pictures[0], 1024)
    picture = np.asarray(sheet.picture)

    def colored(u: float, v: float) -> float:
        x, y = (round(at) for at in view.pixel(u, v))
        patch = picture[view.top + y - 20 : view.top + y + 20, view.left + x - 20 : view.left + x + 20]
        return float((patch == style_of(0)[0]).all(axis=2).mean())

    assert colored(0.33, 0.47) > 0.6 > 0.4 > colored(0.2, 0.2) > 0.05
    assert colored(0.9, 0.9) == 0


def test_an_island_outside_the_tile_is_shown_where_it_is() -> None:
    facts = panel_facts(Panel(0.7, 0.1, 1.4, 0.5), size=(256, 256))
    view = layout_view(facts, facts.pictures[0], 512)
    assert view.uv[2] > 1.4 and not view.folded
    (sheet,) = fault_sheets(facts, lettered([finding_on(facts, 1)]), 512)
    assert sheet.places["A"][2] <= view.left + view.width


def test_a_layout_over_many_tiles_is_folded_onto_one() -> None:
    facts = panel_facts(Panel(0.1, 0.1, 0.5, 0.5), Panel(7.1, 0.6, 7.5, 0.9))
    assert layout_view(facts, facts.pictures[0], 512).folded
    (sheet,) = fault_sheets(facts, lettered([finding_on(facts, 2)]), 512)
    x0, y0, x1, y1 = sheet.places["A"]
    assert x1 - x0 > 100 and y1 - y0 > 70


class TestWhatLiesWhere:
    def test_findings_of_other_pictures_get_their_own_sheet(self) -> None:
        facts = panel_facts(Panel(0.1, 0.1, 0.5, 0.5), Panel(1.1, 0.1, 1.5, 0.5), tiles=(1001, 1002))
        sheets = fault_sheets(facts, lettered([finding_on(facts, 2), finding_on(facts, 1)]), 512)
        assert [sorted(sheet.places) for sheet in sheets] == [["", "B"], ["", "A"]]

    def test_a_pixel_box_is_marked_on_the_map_it_is_of(self) -> None:
        facts = panel_facts(Panel(0.1, 0.1, 0.9, 0.9), size=(64, 64))
        place = Place(map="fish_crate_base_color.png", pixel_box=(16, 8, 32, 24))
        (mark,) = marks_on(facts, facts.pictures[0], [Finding("unpainted", "error", "bare", place)])
        assert mark.boxes == ((0.25, 0.625, 0.5, 0.875),)  # rows run down, V runs up: 1 - 24 / 64, 1 - 8 / 64
        elsewhere = Finding("unpainted", "error", "bare", Place(map="other.png", pixel_box=(1, 1, 2, 2)))
        assert marks_on(facts, facts.pictures[0], [elsewhere]) == []

    def test_a_point_of_the_surface_is_marked_at_its_uv(self) -> None:
        facts = panel_facts(Panel(0.1, 0.1, 0.3, 0.3), Panel(0.5, 0.5, 0.8, 0.9))
        # The second panel starts 1.2 m to the right and is 0.3 m wide and 0.4 m high.
        hole = Finding("open-border", "error", "a hole", Place(mesh="crate", point=(1.5, 0.4, 0.0)))
        (mark,) = marks_on(facts, facts.pictures[0], [hole])
        assert mark.points == ((pytest.approx(0.8), pytest.approx(0.9)),)

    def test_gaps_that_are_too_small_are_ringed(self) -> None:
        facts = panel_facts(Panel(0.1, 0.1, 0.5, 0.5), Panel(0.51, 0.1, 0.9, 0.5), size=(200, 200))
        limits = {"between_texels": 8, "clean_mip": None, "border_texels": None}
        (close,) = checks.get("islands-too-close").run(facts, limits, Scope())
        (mark,) = marks_on(facts, facts.pictures[0], [close])
        ((u, v),) = mark.points
        assert 0.5 <= u <= 0.51 and 0.1 <= v <= 0.5
        (sheet,) = fault_sheets(facts, lettered([close]), 512)
        view = layout_view(facts, facts.pictures[0], 512)
        x, y = view.pixel(u, v)
        x0, y0, x1, y1 = sheet.places["A"]
        assert x0 < x + view.left < x1 and y0 < y + view.top < y1 and x1 - x0 < 100  # the ring, not the islands

    def test_a_finding_on_all_islands_leaves_the_hatch_to_those_on_some(self, drawn: Drawn) -> None:
        facts = panel_facts(*GRID[:10])
        findings = lettered([finding_on(facts, *range(1, 11)), finding_on(facts, 3)])
        (sheet,) = fault_sheets(facts, findings, 512)
        assert sorted((label.row, label.lines) for label in drawn.labels) == [
            (row, ("A B",) if row == 2 else ("A",)) for row in range(10)
        ]
        picture = np.asarray(sheet.picture)
        x0, y0, x1, y1 = sheet.places["B"]
        inside = picture[y0 + 5 : y1 - 5, x0 + 5 : x1 - 5].reshape(-1, 3)
        assert not (inside == style_of(0)[0]).all(axis=1).any()
        assert (inside == style_of(1)[0]).all(axis=1).any()
        fault_sheets(facts, findings[:1], 512)  # alone, it is marked on each
        assert len(drawn.labels) == 10

    def test_a_material_without_a_map_is_marked(self) -> None:
        facts = panel_facts(Panel(0.1, 0.1, 0.5, 0.5), size=None)
        missing = Finding("missing-map", "error", "no map", Place(material="planks", slot="base_color"))
        (mark,) = marks_on(facts, facts.pictures[0], [missing])
        assert mark.rows.tolist() == [0]

    def test_a_material_that_lacks_the_file_it_names_is_marked(self) -> None:
        facts = panel_facts(Panel(0.1, 0.1, 0.5, 0.5), size=None)
        place = Place(map="planks_base_color.png", material="planks", slot="base_color")
        (mark,) = marks_on(facts, facts.pictures[0], [Finding("missing-texture-file", "error", "not there", place)])
        assert mark.rows.tolist() == [0]

    def test_the_pivot_lies_nowhere_on_a_layout(self) -> None:
        facts = panel_facts(Panel(0.1, 0.1, 0.3, 0.3))
        pivot = Finding("pivot-out-of-place", "warning", "off", Place(file="crate.glb", point=(0.0, 0.0, 0.0)))
        assert marks_on(facts, facts.pictures[0], [pivot]) == []

    def test_a_cause_without_a_place_stands_before_what_follows_from_it(self, drawn: Drawn) -> None:
        facts = panel_facts(Panel(0.1, 0.1, 0.3, 0.3), Panel(0.5, 0.5, 0.8, 0.8))
        findings = lettered(
            [
                Finding("name-out-of-form", "error", "a name", Place()),
                finding_on(facts, 1),
                Finding("unlikely-size", "error", "120 m", Place()),
                replace(finding_on(facts, 2, check="texel-density-out-of-range"), cause="unlikely-size"),
            ]
        )
        fault_sheets(facts, findings, 512)
        told = [block.entry.letter if block.entry else "Not on a layout" for _, _, block in drawn.blocks]
        assert told == ["B", "C", "D", "Not on a layout", "A"]

    def test_findings_without_a_place_have_no_empty_layout_beside_them(self, drawn: Drawn) -> None:
        facts = panel_facts(Panel(0.1, 0.1, 0.3, 0.3))
        (sheet,) = fault_sheets(facts, lettered([Finding("name-out-of-form", "error", "a name", Place())]), 512)
        assert sheet.places == {} and sheet.picture.width < 512
        assert [block.entry.letter for _, _, block in drawn.blocks if block.entry] == ["A"]

    def test_a_prop_without_a_layout_still_has_its_legend(self, drawn: Drawn) -> None:
        facts = Facts(prop=panel_facts(Panel(0, 0, 1, 1)).prop, measured=frozenset())
        (sheet,) = fault_sheets(facts, lettered([Finding("unreadable-file", "error", "cut off", Place())]), 512)
        assert sheet.places == {}
        assert [block.entry.letter for _, _, block in drawn.blocks if block.entry] == ["A"]
        assert (np.asarray(sheet.picture) != PAPER).any()

    def test_without_findings_there_is_no_sheet(self) -> None:
        assert fault_sheets(panel_facts(Panel(0, 0, 1, 1)), ()) == []


@pytest.mark.parametrize(("room", "column"), [(150, 0), (149, 1), (99, 1)])
def test_a_heading_never_stands_without_what_it_heads(room: int, column: int) -> None:
    entry = Entry("A", Finding("x", "error", "x"), (0, 0, 0), "rising", marked=False)
    laid = [Block(entry, (), 50), Block(None, (), 20), Block(entry, (), 80)]
    placed = flow(laid, [Column(0, 0, room), Column(1, 0, None)])
    assert [x for x, _, _ in placed] == [0, column, column]


@pytest.mark.parametrize(
    "text", ["", "x" * 400, "`<b>&amp;` \n\t two  words", "漁" * 50, "a/very/long/path/" * 12 + "end.png"]
)
def test_any_text_is_wrapped_without_loss(text: str) -> None:
    lines = wrapped(text, 12, 200)
    assert "".join("".join(lines).split()) == "".join(text.split())
    assert all(width_of(line, 12) <= 200 for line in lines)


def test_the_model_comes_before_its_levels_of_detail_and_nothing_is_told_twice() -> None:
    facts = panel_facts(Panel(0.1, 0.1, 0.5, 0.5))
    (model,) = facts.pictures
    coarse = replace(model, role="lod1", uv_layer=1)
    assert model_first([coarse, model, replace(coarse, role="collision")])[0] is model
    assert model_first([model, coarse])[1] is coarse
    words = about(coarse)
    assert words.count("lod1") == 1 == words.count("UV layer 1") and words.startswith(model.key)


def test_the_header_says_what_the_markers_on_the_islands_mean() -> None:
    facts = panel_facts(
        Panel(0.1, 0.1, 0.4, 0.4), Panel(0.5, 0.5, 0.9, 0.9, mirrored=True), Panel(0.5, 0.1, 0.52, 0.12)
    )

    def said(*islands: int) -> str:
        marks = marks_on(facts, facts.pictures[0], lettered([finding_on(facts, *islands)]))
        return fault_layout.draw_layout(facts, facts.pictures[0], marks, 512).signs

    assert said(1) == "arrow: the model's up"
    assert said(1, 3) == "arrow: the model's up, two points across it: mirrored"
    assert said(2) == ""  # too small for one


class TestSidecars:
    KINDS: Sequence[str] = ("fault_sheet", "guide_sheet", "density_map", "stretch_map")

    def test_names_and_the_same_bytes_again(self) -> None:
        def once() -> tuple[tuple[str, bytes], ...]:
            facts = panel_facts(Panel(0.1, 0.1, 0.5, 0.5), Panel(0.3, 0.3, 0.7, 0.7))
            return draw_sidecars(facts, lettered([finding_on(facts, 1)]), self.KINDS)

        first = once()
        assert first == once()
        assert [name for name, _ in first] == [f"fish_crate.tidegate.{kind}.1.png" for kind in self.KINDS]

    def test_places_come_back_out_of_the_file(self) -> None:
        facts = panel_facts(Panel(0.1, 0.1, 0.5, 0.5))
        findings = lettered([finding_on(facts, 1)])
        ((_, data),) = draw_sidecars(facts, findings, ("fault_sheet",))
        assert places_in(data) == fault_sheets(facts, findings)[0].places
        assert set(places_in(data)) == {"", "A"}

    def test_an_unmarked_island_is_neutral(self) -> None:
        facts = panel_facts(Panel(0.1, 0.1, 0.4, 0.4), Panel(0.6, 0.6, 0.9, 0.9, mirrored=True))
        (sheet,) = fault_sheets(facts, lettered([finding_on(facts, 1)]), 512)
        view = layout_view(facts, facts.pictures[0], 512)
        x, y = view.pixel(0.65, 0.65)
        assert sheet.picture.getpixel((view.left + round(x), view.top + round(y))) == ISLAND
