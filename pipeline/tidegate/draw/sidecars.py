"""The pictures that go beside a report."""

from __future__ import annotations

from collections.abc import Sequence

from tidegate.draw.canvas import png_bytes
from tidegate.model.facts import Facts
from tidegate.model.file_stem import file_stem
from tidegate.model.finding import Finding


def draw_sidecars(facts: Facts, findings: Sequence[Finding], kinds: Sequence[str]) -> tuple[tuple[str, bytes], ...]:
    """(file name, PNG bytes) of the kinds of pictures asked for, in that order; a kind that has nothing to show gives none.

    kinds: of `settings.PICTURES`. The same facts and findings give the same bytes.
    """
    stem = file_stem(facts.prop.name)
    drawn = []
    for kind in kinds:
        for number, picture in enumerate(_drawn(kind, facts, findings), start=1):
            drawn.append((f"{stem}.tidegate.{kind}.{number}.png", picture))
    return tuple(drawn)


def _drawn(kind: str, facts: Facts, findings: Sequence[Finding]) -> list[bytes]:
    if kind == "fault_sheet":
        from tidegate.draw.fault_sheet import fault_sheets

        return [png_bytes(sheet) for sheet in fault_sheets(facts, findings)]
    raise ValueError(f"there is no picture `{kind}`")
