"""The sidecar report as plain dicts: the one record that every format is written from.

Nothing in it changes from run to run except the block `run`, which stands last. Numbers are rounded to six significant
digits, so the last bits of a sum, which may differ between machines, never reach the file.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import Any

from tidegate.model.amounts import bound_of
from tidegate.model.facts import Facts
from tidegate.model.finding import LEVELS, Finding, Place
from tidegate.model.prop import TextureMap
from tidegate.model.verdict import Verdict
from tidegate.model.wording import rounded

SCHEMA = "tidegate-report/1"


def report_record(verdict: Verdict, run: Mapping[str, Any] | None = None) -> dict[str, Any]:
    """The report of one prop. run: whatever changes from run to run (time, ticket, host, seconds), or None."""
    facts = verdict.facts
    prop = facts.prop
    rule_set = verdict.rule_set
    return {
        "schema": SCHEMA,
        "prop": prop.name,
        "verdict": verdict.verdict,
        "rule_set": {
            "name": rule_set.name if rule_set else None,
            "sha256": rule_set.sha256 if rule_set else None,
            "chosen_by": verdict.chosen_by,
        },
        "counts": {level: sum(f.level == level for f in verdict.findings) for level in LEVELS},
        "name_fields": dict(prop.fields),
        "files": [
            {"path": file.path, "role": file.kind, "bytes": file.bytes, "sha256": file.sha256, "library": file.library}
            for file in prop.files
        ],
        "facts": _facts(facts),
        "findings": [finding_record(finding, [name for name, _ in verdict.pictures]) for finding in verdict.findings],
        "pictures": [name for name, _ in verdict.pictures],
        "run": dict(run or {}),
    }


def finding_record(finding: Finding, pictures: Sequence[str] = ()) -> dict[str, Any]:
    """One finding with every key present; `place` holds only what is known. pictures: names of those beside the report."""
    cut_out = f".tidegate.cut_out.{finding.letter}.png"
    return {
        "check": finding.check,
        "level": finding.level,
        "message": finding.message,
        "place": _place(finding.place),
        "measured": _value(finding.measured),
        "wanted": _value(finding.wanted),
        "bound": bound_of(finding.measured, finding.wanted, exact=finding.exact) or None,
        "unit": finding.unit,
        "help": finding.help,
        "certain": finding.certain,
        "cause": finding.cause or None,
        "letter": finding.letter or None,
        "cut_out": next((name for name in pictures if finding.letter and name.endswith(cut_out)), None),
    }


def _place(place: Place) -> dict[str, Any]:
    known = {}
    for field in fields(place):
        value = getattr(place, field.name)
        if value in ("", None, ()):
            continue
        if isinstance(value, tuple):
            if all(math.isfinite(each) for each in value):  # a place at infinity is no place to look at
                known[field.name] = list(value)
        else:
            known[field.name] = value
    return known


def _value(value: float | int | str | None) -> float | int | str | None:
    if isinstance(value, float):
        return _number(value)
    return value


def _number(value: float) -> float | None:
    """JSON has no NaN and no infinity: what is undefined is null."""
    value = float(value)
    return rounded(value) if math.isfinite(value) else None


def _facts(facts: Facts) -> dict[str, Any]:
    return {
        "triangles": sum(part.triangles for part in facts.parts),
        "triangles_by_role": _by_role(facts),
        "uv_layers": max((len(part.uv_layers) for part in facts.parts), default=0),
        "size_m": [_number(side) for side in facts.size] if facts.size else None,
        "meshes": [
            {
                "file": part.file,
                "mesh": part.mesh,
                "node": part.node,
                "material": part.material,
                "role": part.role,
                "triangles": part.triangles,
                "vertices": part.vertices,
                "uv_layers": list(part.uv_layers),
                "world_area_m2": _number(part.world_area),
            }
            for part in facts.parts
        ],
        "islands": _islands(facts),
        "pictures": [
            {
                "key": picture.key,
                "role": picture.role,
                "uv_layer": picture.uv_layer,
                "tile": picture.tile,
                "width_px": picture.width,
                "height_px": picture.height,
                "assumed": picture.assumed,
                "driving_slot": picture.driving_slot or None,
                "islands": len(picture.islands),
            }
            for picture in facts.pictures
        ],
        "maps": [_map(texture) for texture in facts.prop.maps],
        "masters": [
            {"path": m.path, "map": m.map or None, "format": m.header.format, "layers": m.header.layers}
            for m in facts.prop.masters
        ],
        "references": [
            {"file": mesh.path, "text": r.text, "kind": r.kind, "status": r.status, "path": r.path or None}
            for mesh in facts.prop.meshes
            for r in mesh.references
        ],
        "bindings": [
            {
                "mesh_file": b.mesh_file,
                "material": b.material,
                "slot": b.slot,
                "map": b.file,
                "how": b.how,
                "variant": b.variant or None,
                "tile": b.tile,
            }
            for b in facts.prop.bindings
        ],
    }


def _by_role(facts: Facts) -> dict[str, int]:
    totals: dict[str, int] = {}
    for part in facts.parts:
        totals[part.role] = totals.get(part.role, 0) + part.triangles
    return dict(sorted(totals.items()))


def _islands(facts: Facts) -> list[dict[str, Any]]:
    columns = facts.islands
    if columns is None:
        return []
    rows = []
    for i in range(len(columns)):
        part = facts.parts[int(columns.part[i])]
        rows.append(
            {
                "id": i + 1,
                "mesh": part.mesh or part.node,
                "node": part.node,
                "material": part.material,
                "uv_layer": int(columns.uv_layer[i]),
                "tile": int(columns.tile[i]),
                "triangles": int(columns.triangles[i]),
                "uv_area": _number(columns.uv_area[i]),
                "world_area_m2": _number(columns.world_area[i]),
                "bounds": [_number(edge) for edge in columns.bounds[i]],
                "mirrored": bool(columns.winding[i] < 0),
                "folded_triangles": int(columns.folded[i]),
                "density_px_per_m": _number(columns.density[i]),
                "stretch_ratio": _number(columns.stretch_ratio[i]),
                "stretch_worst": _number(columns.stretch_worst[i]),
                "up_deg": _number(columns.up_degrees[i]),
                "up_certainty": _number(columns.up_certainty[i]),
            }
        )
    return rows


def _map(texture: TextureMap) -> dict[str, Any]:
    header = texture.header
    return {
        "path": texture.path,
        "slot": texture.slots[0] if texture.slots else None,
        "slots": list(texture.slots),
        "variant": texture.variant or None,
        "tile": texture.tile,
        "width_px": header.width,
        "height_px": header.height,
        "bits_per_pixel": header.bits_per_pixel,
        "channels": header.channels,
        "bits_per_channel": header.bits_per_channel,
        "alpha_bits": header.alpha_bits,
        "palette": header.palette,
        "format": header.format,
        "compression": header.compression,
        "color_chunks": [list(chunk) for chunk in header.color_chunks],
        "origin": header.origin,
        "problem": header.problem or None,
        "library": texture.library,
    }
