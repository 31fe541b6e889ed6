"""What changed since the version delivered before: layout and maps belong together, and one may have been forgotten."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tidegate.model.finding import Finding, Place


def against_previous(before: Mapping[str, Any], now: Mapping[str, Any]) -> tuple[Finding, ...]:
    """Findings on a report `now` against the report `before` of the version delivered last.

    `layout-changed-maps-not` (warning): islands lie elsewhere and not one map was saved anew. `maps-changed-layout-not`
    (note): the usual case of a repaint, told so that it can be seen. Nothing where both changed, or neither did.
    Reads only what every report of this schema has; a record it cannot read gives no findings.
    """
    try:
        layout = _layout(before) != _layout(now)
        old, new = _maps(before), _maps(now)
    except (KeyError, TypeError, AttributeError):
        return ()
    if not old or not new:
        return ()
    changed = sorted(path for path in old.keys() & new.keys() if old[path] != new[path])
    others = old.keys() != new.keys()
    if layout and not changed and not others:
        return (
            Finding(
                "layout-changed-maps-not",
                "warning",
                f"the UV layout differs from the version delivered before, but all {len(new)} maps are the same files",
                Place(map=sorted(new)[0]),
                help="save the maps again over the new layout, or say that the old paint still fits",
            ),
        )
    if changed and not layout:
        return (
            Finding(
                "maps-changed-layout-not",
                "note",
                f"repainted on the same layout: {', '.join(changed)}",
                Place(map=changed[0]),
            ),
        )
    return ()


def _layout(record: Mapping[str, Any]) -> list[tuple[Any, ...]]:
    """Where islands lie, whatever their numbers and however their vertices are split."""
    return sorted(
        (island["uv_layer"], island["tile"], island["triangles"], *(edge or 0.0 for edge in island["bounds"]))
        for island in record["facts"]["islands"]
    )


def _maps(record: Mapping[str, Any]) -> dict[str, str]:
    digests = {file["path"]: file["sha256"] for file in record["files"]}
    return {one["path"]: digests[one["path"]] for one in record["facts"]["maps"] if digests.get(one["path"])}
