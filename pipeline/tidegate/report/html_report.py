"""The report as one page: every finding with its part of the fault sheet, then the other pictures. Needs no other file."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Mapping, Sequence
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, NamedTuple

from tidegate.model.picture_places import PixelBox, places_in, png_size
from tidegate.model.printable import printable
from tidegate.model.wording import bytes_text
from tidegate.report.text_report import figures, summary, verdict_line, where

if TYPE_CHECKING:
    from jinja2 import Template

HEADINGS = (
    ("fault_sheet", "Fault sheets"),
    ("density_map", "Texel density"),
    ("stretch_map", "Stretch"),
    ("guide_sheet", "Guide sheets"),
)
_MARKERS = (
    "An arrow points to where the model's up lies, two points that face each other across it say that the island is mirrored, "
    "a ring that its up is uncertain."
)
NOTES = {
    "Fault sheets": _MARKERS,
    "Guide sheets": f"A dashed outline is an open edge: the surface ends there. {_MARKERS}",
}
"""What is told under a heading."""
_LEAST = 420  # pixels of a fault sheet that are shown about a finding at least, so that one sees where it is
_LARGEST = (1024, 736)  # pixels that a part of a fault sheet takes on the page at most, across and down
_CLOSER = 1.5  # times it is enlarged at most
_LISTED = 8  # findings that the list at the top tells one by one; where there are more, by their checks
_MOST = 0.6  # share of the layout from which on a part of it says little about where to look


class _View(NamedTuple):
    """A part of a picture on the page. box: what is shown of it. width, height: on the page. all: most of the layout."""

    id: str
    box: str
    label: str
    width: int
    height: int
    all: bool


class _Picture(NamedTuple):
    id: str
    name: str
    width: int
    height: int
    data: str
    places: dict[str, PixelBox]


def html_report(record: Mapping[str, Any], pictures: Sequence[tuple[str, bytes]]) -> str:
    """The page. record: `record.report_record`. pictures: (file name, PNG bytes). Everything in them is escaped."""
    shown = [_picture(number, name, data) for number, (name, data) in enumerate(pictures, start=1)]
    sheets = [picture for picture in shown if picture.places]
    findings = [
        {
            **finding,
            "where": where(finding["place"]),
            "figures": figures(finding),
            "views": _views(finding.get("letter") or "", sheets) if _somewhere(finding["place"]) else [],
            "cut_out_shown": next((picture for picture in shown if picture.name == finding["cut_out"]), None),
        }
        for finding in record["findings"]
    ]
    _shown_once(findings)
    groups = [
        (heading, [_last(picture, findings) for picture in group])
        for kind, heading in HEADINGS
        if (
            group := [
                picture
                for picture in shown
                if f".tidegate.{kind}." in picture.name and not _told_above(picture, kind, findings)
            ]
        )
    ]
    return _template().render(
        record=record,
        verdict_line=verdict_line(record),
        summary=summary(record)[:1].upper() + summary(record)[1:],
        findings=findings,
        contents=_contents(findings),
        sheets=sheets,
        groups=groups,
        notes=NOTES,
    )


def _picture(number: int, name: str, data: bytes) -> _Picture:
    width, height = png_size(data)
    uri = "data:image/png;base64," + b64encode(data).decode("ascii")
    return _Picture(f"picture-{number}", name, width, height, uri, places_in(data))


def _told_above(picture: _Picture, kind: str, findings: Sequence[Mapping[str, Any]]) -> bool:
    """Whether the findings show all of the picture, or say all of it: a fault sheet on which none has a place is a list of
    them."""
    if kind == "fault_sheet":
        return not any(
            one["letter"] in picture.places and _somewhere(one["place"]) for one in findings if one["letter"]
        )
    whole = (0, 0, picture.width, picture.height)
    return any(letter and box == whole for letter, box in picture.places.items())


def _contents(findings: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The list at the top: each finding, or of very many the first of every check, with all the letters. Two are seen at a
    glance and not listed."""
    if len(findings) < 3:
        return []
    lines: dict[object, dict[str, Any]] = {}
    for number, finding in enumerate(findings, start=1):
        alike = number if len(findings) <= _LISTED else (finding["level"], finding["check"])
        line = lines.setdefault(alike, {**finding, "number": number, "same": []})
        line["same"].append({"number": number, "letter": finding["letter"] or str(number)})
    return list(lines.values())


def _last(picture: _Picture, findings: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """A picture below the findings. Of a fault sheet the layout, with the findings on it as links in place of its legend."""
    if not picture.places:
        return {**picture._asdict(), "view": None}
    here = [
        {"number": number, "letter": finding["letter"], "check": finding["check"]}
        for number, finding in enumerate(findings, start=1)
        if finding["letter"] and finding["letter"] in picture.places
    ]
    x0, y0, x1, y1 = picture.places[""]
    return {"name": picture.name, "view": _view(picture, (x0, y0, x1 - x0, y1 - y0), picture.name), "here": here}


def _somewhere(place: Mapping[str, Any]) -> bool:
    """Whether a finding has a place on a layout. One about a map as a whole has its letter at the frame of the tile, and a view
    of that shows nothing."""
    return "map" not in place or any(key in place for key in ("islands", "uv_box", "pixel_box", "point", "material"))


def _views(letter: str, sheets: Sequence[_Picture]) -> list[_View]:
    """The part of each sheet that the letter is on, with some of what lies around it."""
    return [
        _view(sheet, _window(sheet.places[letter], sheet.places[""]), f"{letter} on {sheet.name}")
        for sheet in sheets
        if letter in sheet.places
    ]


def _view(picture: _Picture, window: tuple[int, int, int, int], label: str) -> _View:
    x, y, wide, high = window
    whole = (wide, high) == (picture.width, picture.height)
    times = 1.0 if whole else min(_CLOSER, _LARGEST[0] / wide, _LARGEST[1] / high)
    left, top, right, bottom = picture.places[""]
    most = wide * high >= _MOST * (right - left) * (bottom - top) and not whole
    return _View(picture.id, f"{x} {y} {wide} {high}", label, round(wide * times), round(high * times), most)


def _shown_once(findings: Sequence[dict[str, Any]]) -> None:
    """The same view under several findings is shown under the first; the others say which one that is."""
    first: dict[tuple[str, str], tuple[int, str]] = {}
    for number, finding in enumerate(findings, start=1):
        views, finding["views"], finding["seen_at"] = finding["views"], [], None
        for view in views:
            seen = first.setdefault((view.id, view.box), (number, finding["letter"]))
            if seen[0] == number:
                finding["views"].append(view)
            else:
                finding["seen_at"] = seen
        # Where almost everything is marked, the map itself shows what is wrong.
        finding["cut_out_first"] = finding["cut_out_shown"] is not None and any(view.all for view in finding["views"])


def _window(box: PixelBox, layout: PixelBox) -> tuple[int, int, int, int]:
    """x, y, width and height shown about a box: wider than high, inside the layout, the box with room on every side."""
    wide = min(max(_LEAST, round(1.5 * (box[2] - box[0]))), layout[2] - layout[0])
    high = min(max(round(0.75 * _LEAST), round(1.5 * (box[3] - box[1]))), layout[3] - layout[1])
    wide = min(max(wide, round(high * 1.33)), layout[2] - layout[0])
    x = min(max((box[0] + box[2] - wide) // 2, layout[0]), layout[2] - wide)
    y = min(max((box[1] + box[3] - high) // 2, layout[1]), layout[3] - high)
    return x, y, wide, high


def _plain(value: object) -> object:
    """Signs that are not seen are no HTML, and could turn the reading order; they stand as escapes."""
    return printable(value) if type(value) is str else value  # not Markup, which is the page itself


@cache
def _template() -> Template:
    from jinja2 import Environment, StrictUndefined

    page = files("tidegate.report").joinpath("templates/report.html.j2").read_text("utf-8")
    environment = Environment(autoescape=True, undefined=StrictUndefined, finalize=_plain)
    environment.filters["bytes_text"] = bytes_text
    return environment.from_string(page)
