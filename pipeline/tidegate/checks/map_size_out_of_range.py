"""A map whose width or height is not one the rules allow."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Limit, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place
from tidegate.model.map_sizes import against_order, fraction_faults, ratio_allowed
from tidegate.model.prop import TextureMap
from tidegate.model.wording import one_of

SAME_SHAPE = 1.1  # width to height of two sizes over one another, up to which the picture is not squeezed to be seen


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    taken = []
    for texture in facts.prop.maps:
        if not texture.header.readable or not _takes(facts, texture, scope):
            continue
        taken.append(texture)
        yield from _alone(texture, limits)
        for wanted in against_order(texture, facts.order):
            header = texture.header
            yield _finding(
                texture,
                f"is {header.width} x {header.height}, ordered was {wanted}",
                max(header.width, header.height),
                wanted,
                f"save it at {wanted}",
            )
    if limits["same_within_material"]:
        mended = {t.path: _mended(t.header.width, t.header.height) for t in taken} if limits["power_of_two"] else {}
        for texture, share, base in fraction_faults(facts.prop, taken, limits["fractions"], mended):
            yield _finding(
                texture,
                f"is {share} of the size of {base.path}, which the same material wears",
                f"{texture.header.width} x {texture.header.height}",
                f"{base.header.width} x {base.header.height}",
                f"save it at the size of {base.path}, or at {one_of([f'{f:g}' for f in limits['fractions']])} of it",
            )


def _takes(facts: Facts, texture: TextureMap, scope: Scope) -> bool:
    materials = [b.material for b in facts.prop.bindings if b.file == texture.path] or [""]
    slots = texture.slots or ("",)
    return any(
        scope.takes(slot=slot, material=material, variant=texture.variant, tile=texture.tile)
        for slot in slots
        for material in materials
    )


def _alone(texture: TextureMap, limits: Mapping[str, Any]) -> Iterator[Finding]:
    width, height = texture.header.width, texture.header.height
    shown = f"{width} x {height}"
    ratio = (width, height)
    if limits["power_of_two"] and (width & (width - 1) or height & (height - 1)):
        near = (_nearest_power(width), _nearest_power(height))
        ratio = _mended(width, height)
        yield _finding(
            texture,
            f"is {shown}, not a power of two on both sides",
            shown,
            "powers of two",
            f"save it at {near[0]} x {near[1]}",
        )
    if limits["smallest"] is not None and min(width, height) < limits["smallest"]:
        yield _finding(
            texture,
            f"is {shown}, smaller than {limits['smallest']}",
            min(width, height),
            limits["smallest"],
            f"paint and save it at {limits['smallest']} or more",
        )
    if limits["largest"] is not None and max(width, height) > limits["largest"]:
        yield _finding(
            texture,
            f"is {shown}, larger than {limits['largest']}",
            max(width, height),
            limits["largest"],
            f"save it at {limits['largest']} or less",
        )
    if limits["ratios"] and not ratio_allowed(*ratio, limits["ratios"]):
        allowed = one_of(limits["ratios"])
        yield _finding(
            texture, f"is {shown}; width to height may be {allowed}", shown, allowed, f"save it as {allowed}"
        )


def _mended(width: int, height: int) -> tuple[int, int]:
    """The size in powers of two that keeps the shape; where none does, the size as it is."""
    near = (_nearest_power(width), _nearest_power(height))
    across, up = width * near[1], height * near[0]
    return near if max(across, up) <= SAME_SHAPE * min(across, up) else (width, height)


def _nearest_power(side: int) -> int:
    """The power of two nearest to a side in proportion, the larger one of two equally near."""
    lower = 1 << (side.bit_length() - 1)
    return lower if side * side < 2 * lower * lower else 2 * lower


def _finding(texture: TextureMap, says: str, measured: int | str, wanted: int | str, help: str) -> Finding:
    return Finding(
        check="map-size-out-of-range",
        level="",
        message=f"{texture.path} {says}",
        place=Place(
            map=texture.path, slot=texture.slots[0] if texture.slots else "", variant=texture.variant, tile=texture.tile
        ),
        measured=measured,
        wanted=wanted,
        unit="texels",
        help=help,
    )


CHECK = Check(
    name="map-size-out-of-range",
    group="maps and masters",
    stage=70,
    needs=frozenset({"files", "meshes", "headers"}),
    looks_at="width and height of every map: power of two, smallest, largest, ratio, the size ordered, and the sizes of a "
    "material's maps among each other",
    why="odd sizes are resampled or refused further on, and one map of another size blurs against its neighbours",
    put_right="export the map from its master at an allowed size; do not scale the flat map up",
    blind_spots="a map scaled up from a smaller one has the right size and no more detail",
    limits=(
        Limit("power_of_two", "boolean", True, "", "both sides are powers of two; common practice, no source"),
        Limit("smallest", "integer", 64, "texels", "shorter side at least; common practice, no source", low=1),
        Limit("largest", "integer", 4096, "texels", "longer side at most; common practice, no source", low=1),
        Limit("ratios", "texts", ["1:1"], "", "allowed width:height, empty for any; common practice, no source"),
        Limit("same_within_material", "boolean", True, "", "maps of one material have one size, or a fraction of it"),
        Limit("fractions", "numbers", [1.0, 0.5], "share", "allowed size of a map over the largest of its material"),
    ),
    scope=frozenset({"slot", "material", "variant", "tile"}),
    run=run,
)
