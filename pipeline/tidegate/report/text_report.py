"""The report as a person reads it in 80 columns: the verdict last, where the eye rests."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from typing import Any

from tidegate.model.amounts import figures as in_words
from tidegate.model.printable import printable
from tidegate.model.wording import count

WIDTH = 80
MARKS = {"error": "error", "warning": "warning", "note": "note"}


def text_report(record: Mapping[str, Any], width: int = WIDTH) -> str:
    """Findings in fix-first order, each with place, measured, wanted and help; then the facts in a line; then the verdict."""
    head = printable(str(record["prop"]))
    lines: list[str] = [head, "-" * min(width, len(head))]
    for finding in record["findings"]:
        lines.extend(_finding(finding, width))
    if record["findings"]:
        lines.append("")
    lines.extend(_wrapped(summary(record), "", "", width))
    lines.extend(_wrapped(verdict_line(record), "", "", width))
    return "\n".join(line.rstrip() for line in lines) + "\n"


def concise_line(finding: Mapping[str, Any], prop: str) -> str:
    """One grep-able line: `place: level: check: message`."""
    place = finding["place"]
    where = place.get("file") or place.get("map") or prop
    return printable(f"{where}: {finding['level']}: {finding['check']}: {finding['message']}")


def verdict_line(record: Mapping[str, Any]) -> str:
    """`crate approved under the rule set furniture`, `crate returned under the rule set furniture: 2 errors, 1 warning`."""
    counts = record["counts"]
    found = [f"{counts[level]} {level}{'' if counts[level] == 1 else 's'}" for level in MARKS if counts[level]]
    by = f" under the rule set {record['rule_set']['name']}" if record["rule_set"]["name"] else ""
    tail = f": {', '.join(found)}" if found else ""
    return printable(f"{record['prop']} {record['verdict']}{by}{tail}")


def summary(record: Mapping[str, Any]) -> str:
    """What was looked at, in one sentence."""
    facts = record["facts"]
    islands, maps = len(facts["islands"]), len(facts["maps"])
    parts = [count(facts["triangles"], "triangle"), count(islands, "island"), count(maps, "map")]
    densities = [i["density_px_per_m"] for i in facts["islands"] if i["density_px_per_m"] is not None]
    if densities:
        low, high = min(densities), max(densities)
        parts.append(f"{low:.0f} px/m" if round(low) == round(high) else f"{low:.0f} to {high:.0f} px/m")
    if facts["size_m"]:
        parts.append(" x ".join(f"{side:.3g}" for side in facts["size_m"]) + " m")
    return "looked at: " + ", ".join(parts)


def _finding(finding: Mapping[str, Any], width: int) -> list[str]:
    indent = "    " if finding["cause"] else "  "
    lines = [""]
    head = f"{MARKS[finding['level']]} {finding['check']}"
    if finding.get("letter"):
        head += f" [{finding['letter']}]"  # as on the fault sheet
    if finding["cause"]:
        head = f"  follows from {finding['cause']}: {head}"
    lines.append(head)
    lines.extend(_wrapped(finding["message"], indent, indent, width))
    place = where(finding["place"])
    if place:
        lines.extend(_wrapped(f"where: {place}", indent, indent + "       ", width))
    if finding["measured"] is not None or finding["wanted"] is not None:
        lines.extend(_wrapped(figures(finding), indent, indent + "       ", width))
    if finding["help"]:
        lines.extend(_wrapped(f"help: {finding['help']}", indent, indent + "      ", width))
    return lines


def figures(finding: Mapping[str, Any]) -> str:
    """`measured 12 texels, wanted none`, "" where there is nothing to compare."""
    return in_words(finding["measured"], finding["wanted"], finding["unit"], finding.get("bound") or "")


def where(place: Mapping[str, Any]) -> str:
    """The place of a finding in words, the file first."""
    parts = []
    for key in ("file", "map", "node", "mesh", "material", "slot", "variant", "role"):
        if key in place and not (key == "role" and place[key] == "model"):
            parts.append(f"{key} {place[key]}")
    if place.get("uv_layer"):
        parts.append(f"UV layer {place['uv_layer']}")
    if "tile" in place and place["tile"] != 1001:
        parts.append(f"tile {place['tile']}")
    if "islands" in place:
        shown = place["islands"]
        listed = ", ".join(str(number) for number in shown[:8]) + (" ..." if len(shown) > 8 else "")
        parts.append(f"island{'' if len(shown) == 1 else 's'} {listed}")
    if "uv_box" in place:
        u0, v0, u1, v1 = place["uv_box"]
        parts.append(f"UV {u0:.3g}..{u1:.3g} by {v0:.3g}..{v1:.3g}")
    if "pixel_box" in place:
        x0, y0, x1, y1 = place["pixel_box"]
        parts.append(f"pixels {x0}..{x1} by {y0}..{y1}")
    if "point" in place:
        parts.append("point " + ", ".join(f"{c:.3g}" for c in place["point"]) + " m")
    return "; ".join(parts)


def _wrapped(text: str, first: str, rest: str, width: int) -> list[str]:
    return textwrap.wrap(
        printable(text),
        width,
        initial_indent=first,
        subsequent_indent=rest,
        break_long_words=False,
        break_on_hyphens=False,
    )
