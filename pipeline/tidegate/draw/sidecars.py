"""The pictures that go beside a report."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from tidegate.draw.canvas import png_bytes
from tidegate.model.facts import Facts
from tidegate.model.file_stem import file_stem
from tidegate.model.finding import Finding

if TYPE_CHECKING:
    from tidegate.draw.cut_out import ReadMap

GUIDE_PX = 1024
"""Longer side of the guide sheets beside a report; `tidegate sheet` draws them at any size."""
_NEEDS: dict[str, frozenset[str]] = {
    "fault_sheet": frozenset(),  # shows what the rules had measured
    "cut_out": frozenset(),
    "guide_sheet": frozenset({"islands", "upright"}),
    "density_map": frozenset({"islands"}),
    "stretch_map": frozenset({"islands"}),
}


def needs_of_pictures(kinds: Sequence[str]) -> frozenset[str]:
    """Groups of facts that these kinds of pictures are drawn from."""
    return frozenset().union(*(_NEEDS[kind] for kind in kinds))


def draw_sidecars(
    facts: Facts, findings: Sequence[Finding], kinds: Sequence[str], read: ReadMap = lambda texture: None
) -> tuple[tuple[str, bytes], ...]:
    """(file name, PNG bytes) of the kinds of pictures asked for, in that order; a kind that has nothing to show gives none.
    Beside a fault sheet, findings bring the heat map that shows them along, of the pictures they lie on.

    kinds: of `settings.PICTURES`. read: pixels of a map, asked for by cut-outs alone. A cut-out is named by the letter of its
    finding, the others are numbered. The same facts and findings give the same bytes.
    """
    stem = file_stem(facts.prop.name)
    drawn: list[tuple[str, bytes]] = []
    for kind in kinds:
        if kind == "cut_out":
            from tidegate.draw.cut_out import cut_outs

            drawn.extend(
                (f"{stem}.tidegate.cut_out.{letter}.png", data) for letter, data in cut_outs(facts, findings, read)
            )
            continue
        for number, picture in enumerate(_drawn(kind, facts, findings), start=1):
            drawn.append((f"{stem}.tidegate.{kind}.{number}.png", picture))
    for kind in _brought_along(findings, kinds):
        for number, picture in enumerate(_heat(kind, facts, findings, whole=False), start=1):
            drawn.append((f"{stem}.tidegate.{kind}.{number}.png", picture))
    return tuple(drawn)


def _brought_along(findings: Sequence[Finding], kinds: Sequence[str]) -> list[str]:
    """Heat maps that findings call for and that are not drawn anyway."""
    called = {finding.shown.heat for finding in findings} - {"", *kinds}
    return sorted(called) if "fault_sheet" in kinds else []


def _drawn(kind: str, facts: Facts, findings: Sequence[Finding]) -> list[bytes]:
    if kind == "fault_sheet":
        from tidegate.draw.fault_sheet import fault_sheets

        return [png_bytes(sheet.picture, places=sheet.places) for sheet in fault_sheets(facts, findings)]
    if kind == "guide_sheet":
        from tidegate.draw.guide_files import flat_png
        from tidegate.draw.guide_sheets import guide_sheets
        from tidegate.draw.palette import PAPER

        return [flat_png(layers, PAPER) for _, layers in guide_sheets(facts, GUIDE_PX)]
    if kind in ("density_map", "stretch_map"):
        return _heat(kind, facts, findings, whole=True)
    raise ValueError(f"there is no picture `{kind}`")


def _heat(kind: str, facts: Facts, findings: Sequence[Finding], *, whole: bool) -> list[bytes]:
    """Heat maps with the letters of the findings they show. whole: of every picture of the prop."""
    from tidegate.draw.heat_map import heat_map, heated
    from tidegate.draw.heat_values import density_values, stretch_values
    from tidegate.draw.marks import marks_on

    values_of = density_values if kind == "density_map" else stretch_values
    drawn = []
    for picture in heated(facts):
        marks = [mark for mark in marks_on(facts, picture, findings) if mark.finding.shown.heat == kind]
        if marks or whole:
            letters = [mark.letter for mark in marks]
            sheet = heat_map(facts, picture, values_of, marks=marks)
            drawn.append(
                png_bytes(sheet, places=dict.fromkeys(["", *letters], (0, 0, *sheet.size)) if letters else None)
            )
    return drawn
