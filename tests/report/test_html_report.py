"""The page: everything escaped, nothing fetched, each picture under its finding."""

from __future__ import annotations

import base64
import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np

from tests.draw.laid_out import Panel, panel_facts
from tests.draw.test_fault_sheet import finding_on
from tidegate.draw.sidecars import draw_sidecars
from tidegate.model.finding import Finding, Place, Shown
from tidegate.model.letters import lettered
from tidegate.model.picture_places import places_in, png_size
from tidegate.model.verdict import RETURNED, Verdict
from tidegate.report.html_report import html_report
from tidegate.report.record import report_record

NASTY = """<script>alert(1)</script>"'&{{ 7 * 7 }}"""


class Tags(HTMLParser):
    """Tags with their attributes in order, and all text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text += data


def page_of(
    *findings: Finding, kinds: tuple[str, ...] = ("fault_sheet",), name: str = "fish_crate"
) -> tuple[str, Verdict]:
    facts = panel_facts(Panel(0.1, 0.1, 0.4, 0.4), Panel(0.6, 0.6, 0.9, 0.9), name=name)
    given = findings or (finding_on(facts, 2), finding_on(facts, 1, level="warning"))
    given = lettered(given)
    verdict = Verdict(name, RETURNED, given, facts, None, pictures=draw_sidecars(facts, given, kinds))
    return html_report(report_record(verdict), verdict.pictures), verdict


def test_each_finding_shows_its_part_of_the_sheet() -> None:
    page, verdict = page_of()
    ((_, sheet),) = verdict.pictures
    places = places_in(sheet)
    parsed = Tags(page)
    views = [attrs["viewbox"] for tag, attrs in parsed.tags if tag == "svg" and "viewbox" in attrs]
    assert len(views) == 3  # two parts, and the whole layout at the end
    x0, y0, x1, y1 = places[""]
    assert views[2] == f"{x0} {y0} {x1 - x0} {y1 - y0}"
    for letter, view in zip("AB", views, strict=False):
        x, y, wide, high = (int(n) for n in str(view).split())
        x0, y0, x1, y1 = places[letter]
        assert x <= x0 and y <= y0 and x1 <= x + wide and y1 <= y + high
    assert len(set(views)) == 3
    letters = re.findall(r'class="letter">([A-Z]+)<', page)
    assert letters == ["A", "B"]


def test_a_finding_without_a_place_has_no_picture() -> None:
    page, _ = page_of(Finding("missing-map", "error", "no map", Place()))
    assert 'id="finding-1"' in page
    section = page.split('id="finding-1"', 1)[1].split("</section>", 1)[0]
    assert "<figure>" not in section


def test_nothing_is_fetched_and_pictures_are_inside() -> None:
    page, verdict = page_of(kinds=("fault_sheet", "density_map", "stretch_map", "guide_sheet"))
    parsed = Tags(page)
    assert "script" not in {tag for tag, _ in parsed.tags}
    links = [str(a.get("src") or a.get("href")) for _, a in parsed.tags if a.get("src") or a.get("href")]
    assert all(link.startswith(("data:image/png;base64,", "#picture-", "#finding-")) for link in links)
    inside = [base64.b64decode(link.split(",", 1)[1]) for link in links if link.startswith("data:")]
    assert inside == [data for _, data in verdict.pictures]  # each once
    defined = {a["id"] for tag, a in parsed.tags if tag in ("image", "section")}
    assert {link[1:] for link in links if link.startswith("#")} <= defined
    assert parsed.text.count("A dashed outline is an open edge") == 1
    headings = re.findall(r"<h2>([^<]+)</h2>", page)
    assert headings == ["Findings", "Fault sheets", "Texel density", "Stretch", "Guide sheets", "Files"]


def test_a_heat_map_that_a_finding_calls_for_stands_under_it_and_nowhere_else() -> None:
    facts = panel_facts(Panel(0.1, 0.1, 0.4, 0.4), Panel(0.6, 0.6, 0.9, 0.9))
    stretched = replace(finding_on(facts, 1), shown=Shown(heat="stretch_map"))
    page, verdict = page_of(stretched, finding_on(facts, 2))
    assert [name.split(".")[2] for name, _ in verdict.pictures] == ["fault_sheet", "stretch_map"]
    width, height = png_size(verdict.pictures[1][1])
    view = f'viewBox="0 0 {width} {height}" width="{width}" height="{height}" role="img" aria-label="A on '
    assert page.count(view) == 1 and view in page.split('id="finding-1"', 1)[1].split("</section>", 1)[0]
    assert re.findall(r"<h2>([^<]+)</h2>", page) == ["Findings", "Fault sheets", "Files"]


def test_everything_is_escaped() -> None:
    place = Place(file=NASTY, material=NASTY, mesh=NASTY)
    page, _ = page_of(Finding("missing-map", "error", NASTY, place, NASTY, NASTY, NASTY, NASTY), name=NASTY)
    assert "<script" not in page
    parsed = Tags(page)
    assert parsed.text.count(NASTY) >= 6
    assert "49" not in re.sub(r"[^{}]*base64[^\"]*", "", parsed.text).replace(NASTY, "")


def test_names_in_the_drawings_of_the_page_are_escaped() -> None:
    """A picture is named after its prop, and its name stands in attributes of SVG and of images and under them."""
    _, verdict = page_of(kinds=("fault_sheet", "density_map", "guide_sheet"))
    named = [(f"{NASTY}{name}", data) for name, data in verdict.pictures]
    page = html_report(report_record(verdict), named)
    parsed = Tags(page)
    assert "script" not in {tag for tag, _ in parsed.tags}
    allowed = {"viewbox", "role", "aria-label", "class", "aria-hidden", "id", "href", "width", "height", "src", "alt"}
    drawn = [(tag, attrs) for tag, attrs in parsed.tags if tag in ("svg", "image", "use", "img")]
    assert {key for _, attrs in drawn for key in attrs} <= allowed
    labels = [attrs.get("aria-label") or attrs.get("alt") or "" for _, attrs in drawn]
    assert sum(NASTY in label for label in labels) == 5  # two views, the sheet, the heat map and the guide sheet
    assert parsed.text.count(NASTY) == 3  # the names under the pictures


def test_text_and_page_tell_the_same_letter() -> None:
    from tidegate.report.text_report import text_report

    _, verdict = page_of()
    lines = text_report(report_record(verdict)).splitlines()
    assert "error tilted-islands [A]" in lines and "warning tilted-islands [B]" in lines


def test_an_approved_prop_has_a_page_of_its_own() -> None:
    facts = panel_facts(Panel(0.1, 0.1, 0.4, 0.4))
    verdict = Verdict("fish_crate", "approved", (), facts, None)
    page = html_report(report_record(verdict), ())
    assert "<h2>No findings</h2>" in page
    assert html_report(report_record(verdict), ()) == page


def test_a_view_that_several_findings_share_is_shown_once_and_named_under_the_others() -> None:
    facts = panel_facts(Panel(0.1, 0.1, 0.4, 0.4), Panel(0.6, 0.6, 0.9, 0.9))
    same = [finding_on(facts, 1), finding_on(facts, 1, level="warning"), finding_on(facts, 2)]
    page, _ = page_of(*same)
    sections = [part.split("</section>")[0] for part in page.split('<section class="finding')[1:]]
    assert sorted(part.count("<figure>") for part in sections) == [0, 1, 1]
    (hidden,) = (part for part in sections if "<figure>" not in part)
    assert re.search(r'Shown on the picture under <a href="#finding-(\d)">[A-Z]</a>\.', hidden)


def test_more_than_two_findings_are_listed_first_each_with_its_link() -> None:
    facts = panel_facts(Panel(0.1, 0.1, 0.4, 0.4), Panel(0.6, 0.6, 0.9, 0.9))
    page, _ = page_of(finding_on(facts, 1), finding_on(facts, 2), Finding("missing-map", "error", "no map", Place()))
    assert re.findall(r'<li class="\w+"><span class="letter">[ABC]</span><a href="#([^"]+)"', page) == [
        f"finding-{n}" for n in (1, 2, 3)
    ]
    assert all(f'id="finding-{n}"' in page for n in (1, 2, 3))
    assert '<ol class="contents">' not in page_of()[0]  # two are seen at a glance


def section(page: str, number: int) -> str:
    return page.split(f'id="finding-{number}"', 1)[1].split("</section>", 1)[0]


def test_below_the_whole_layout_its_findings_are_links_in_place_of_the_legend() -> None:
    page, _ = page_of()
    caption = page.rsplit("<figcaption>", 1)[1].split("</figcaption>")[0]
    assert re.findall(r'<a href="#finding-(\d)"><b>([A-Z])</b> ([a-z-]+)</a>', caption) == [
        ("1", "A", "tilted-islands"),
        ("2", "B", "tilted-islands"),
    ]


def test_very_many_findings_are_listed_by_their_checks() -> None:
    names = [Finding("name-out-of-form", "error", f"name {n}", Place(file=f"{n}.png")) for n in range(7)]
    odd = Finding("missing-master", "warning", "no master", Place())
    listed = r'<li class="(\w+)"><span class="letter">([A-Z]+)</span><a href="#finding-(\d+)">([^<]+)<'
    page, _ = page_of(*names, odd)  # eight
    assert [letter for _, letter, _, _ in re.findall(listed, page)] == list("ABCDEFGH")
    page, _ = page_of(*names, odd, names[0])
    assert re.findall(listed, page) == [("error", "A", "1", "name 0"), ("warning", "H", "8", "no master")]
    assert "8 findings of name-out-of-form: " in page
    links = page.split("8 findings of name-out-of-form: ", 1)[1].split("</span>")[0]
    assert re.findall(r'#finding-(\d+)">([A-Z])<', links) == [
        *((str(n), "ABCDEFG"[n - 1]) for n in range(1, 8)),
        ("9", "I"),
    ]


def test_no_picture_is_drawn_larger_than_it_can_be_read_or_than_a_screen() -> None:
    facts = panel_facts(Panel(0.1, 0.1, 0.4, 0.4), Panel(0.6, 0.6, 0.9, 0.9))
    page, _ = page_of(finding_on(facts, 2), finding_on(facts, 1, 2))
    sizes = [
        (int(str(tags["viewbox"]).split()[2]), int(str(tags["width"])), int(str(tags["height"])))
        for tag, tags in Tags(page).tags
        if tag == "svg" and "viewbox" in tags
    ]
    assert len(sizes) == 3
    assert all(width <= 1.5 * shown and width <= 1024 and height <= 736 for shown, width, height in sizes)
    assert sizes[0][1] == round(1.5 * sizes[0][0])  # a small place is seen enlarged


def test_a_sheet_that_only_lists_the_findings_is_not_shown_below_them() -> None:
    page, verdict = page_of(Finding("name-out-of-form", "error", "a name", Place()))
    assert len(verdict.pictures) == 1 and "<figure>" not in page
    assert re.findall(r"<h2>([^<]+)</h2>", page) == ["Findings", "Files"]


def test_a_finding_about_a_map_as_a_whole_has_no_view_of_an_empty_frame() -> None:
    whole = Place(map="fish_crate_base_color.png", slot="base_color")
    facts = panel_facts(Panel(0.1, 0.1, 0.4, 0.4), Panel(0.6, 0.6, 0.9, 0.9))
    unsaved = Finding("looks-unsaved", "error", "black", whole)
    page, _ = page_of(unsaved, finding_on(facts, 1))
    assert "<figure>" not in section(page, 1) and "<figure>" in section(page, 2)
    assert "<h2>Fault sheets</h2>" in page and "<h2>Fault sheets</h2>" not in page_of(unsaved)[0]


def test_where_almost_everything_is_marked_the_map_itself_comes_first() -> None:
    image = np.zeros((64, 64, 3), np.uint8)
    for panels, first in (
        ((Panel(0.02, 0.02, 0.48, 0.98), Panel(0.52, 0.02, 0.98, 0.98)), "img"),
        ((Panel(0.1, 0.1, 0.2, 0.2), Panel(0.15, 0.15, 0.22, 0.22)), "svg"),
    ):
        facts = panel_facts(*panels)
        place = replace(finding_on(facts, 1, 2).place, map="fish_crate_base_color.png", slot="base_color")
        other = Finding("painted-for-another-layout", "error", "x", place, shown=Shown(over="outlines"))
        given = lettered([other])
        pictures = draw_sidecars(facts, given, ("fault_sheet", "cut_out"), lambda picture: image)
        verdict = Verdict("fish_crate", RETURNED, given, facts, None, pictures=pictures)
        part = section(html_report(report_record(verdict), pictures), 1)
        assert re.findall(r"<(img|svg)", part)[0] == first and len(re.findall(r"<(img|svg)", part)) == 2


def test_a_word_that_is_longer_than_a_line_is_broken_and_not_cut_off() -> None:
    page, _ = page_of()
    body = re.search(r"body \{([^}]*)\}", page)
    assert body and "overflow-wrap: anywhere" in body[1]
