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
NOTES = {"Guide sheets": "A dashed outline is an open edge: the surface ends there."}
"""What is told under a heading."""
_LEAST = 420  # pixels of a fault sheet that are shown about a finding at least, so that one sees where it is


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
            "views": _views(finding.get("letter") or "", sheets),
            "cut_out_shown": next((picture for picture in shown if picture.name == finding["cut_out"]), None),
        }
        for finding in record["findings"]
    ]
    _shown_once(findings)
    groups = [
        (heading, group)
        for kind, heading in HEADINGS
        if (
            group := [
                picture for picture in shown if f".tidegate.{kind}." in picture.name and not _under_findings(picture)
            ]
        )
    ]
    return _template().render(
        record=record,
        verdict_line=verdict_line(record),
        summary=summary(record)[:1].upper() + summary(record)[1:],
        findings=findings,
        sheets=sheets,
        groups=groups,
        notes=NOTES,
    )


def _picture(number: int, name: str, data: bytes) -> _Picture:
    width, height = png_size(data)
    uri = "data:image/png;base64," + b64encode(data).decode("ascii")
    return _Picture(f"picture-{number}", name, width, height, uri, places_in(data))


def _under_findings(picture: _Picture) -> bool:
    """Whether findings show all of the picture, so that it need not be shown again."""
    whole = (0, 0, picture.width, picture.height)
    return any(letter and box == whole for letter, box in picture.places.items())


def _views(letter: str, sheets: Sequence[_Picture]) -> list[dict[str, str]]:
    """The part of each sheet that the letter is on, with some of what lies around it."""
    views = []
    for sheet in sheets:
        if letter in sheet.places:
            x, y, wide, high = _window(sheet.places[letter], sheet.places[""])
            views.append({"id": sheet.id, "box": f"{x} {y} {wide} {high}", "label": f"{letter} on {sheet.name}"})
    return views


def _shown_once(findings: Sequence[dict[str, Any]]) -> None:
    """The same view under several findings is shown under the first; the others say which one that is."""
    first: dict[tuple[str, str], str] = {}
    for finding in findings:
        views, finding["views"], finding["seen_at"] = finding["views"], [], ""
        for view in views:
            letter = first.setdefault((view["id"], view["box"]), finding["letter"])
            if letter == finding["letter"]:
                finding["views"].append(view)
            else:
                finding["seen_at"] = letter


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
