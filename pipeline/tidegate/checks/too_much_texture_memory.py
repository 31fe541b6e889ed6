"""A prop whose maps take more memory than they may."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding
from tidegate.model.map_uses import map_place, maps_in
from tidegate.model.mip_levels import unpacked_bytes
from tidegate.model.wording import bytes_text, count


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    if limits["most_mib"] is None:
        return
    maps = [texture for texture in maps_in(facts, scope) if texture.header.readable]
    variants = sorted({texture.variant for texture in maps}) or [""]
    # Variants are never seen at once: what is shared and the largest of them count.
    sums = []
    for variant in variants:
        worn = [texture for texture in maps if texture.variant in ("", variant)]
        sums.append((sum(unpacked_bytes(texture.header) for texture in worn), variant, worn))
    total, variant, worn = max(sums, key=lambda one: one[0])
    most = limits["most_mib"] * (1 << 20)
    if total <= most or not worn:
        return
    largest = max(worn, key=lambda one: (unpacked_bytes(one.header), one.path))
    of = f" of the variant {variant}" if variant and len(variants) > 1 else ""
    yield Finding(
        check="too-much-texture-memory",
        level="",
        message=(
            f"{count(len(worn), 'map')}{of} unpack to {bytes_text(total)} with their mip chains; "
            f"the largest is {largest.path} with {bytes_text(unpacked_bytes(largest.header))}"
        ),
        place=map_place(largest),
        measured=round(total / (1 << 20), 3),
        wanted=limits["most_mib"],
        unit="MiB",
        help="save the largest maps at half the size, drop alpha that nothing reads, or store grey data in one channel",
    )


CHECK = Check(
    name="too-much-texture-memory",
    group="maps and masters",
    stage=71,
    needs=frozenset({"files", "headers"}),
    looks_at="memory of all maps of the prop when unpacked, mip chains counted, the largest variant for all",
    why="memory for maps runs out long before disk space does, and one prop that takes too much is paid for by all others",
    put_right="make maps smaller or fewer; let props share maps",
    blind_spots="what a later step packs them to; maps of a library count for nothing here",
    limits=(
        Limit("most_mib", "number", None, "MiB", "memory of a prop's maps at most; common practice, no source", low=0),
    ),
    level="warning",
    scope=frozenset({"slot", "material", "variant", "tile"}),
    run=run,
)
