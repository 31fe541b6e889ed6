"""Amounts with their units as people read them: one and many, shares as percent, lengths in a fitting unit, bounds in words.

The numbers in findings and rules stay what they are; this is how text and pages show them.
"""

from __future__ import annotations

from .wording import length, number

ABOUT, AT_MOST, AT_LEAST = "about", "at most", "at least"

_ONE = {"vertices": "vertex", "vertices/triangle": "vertices/triangle", "times": "times", "bits": "bits"}
_IN_WORDS = {
    "vertices/triangle": "vertices a triangle",
    "bits": "bits a channel",
    "certainty": "of 1",
    "difference": "of 1",
}


def bound_of(measured: object, wanted: object, *, exact: bool = False) -> str:
    """How the wanted number binds the measured one: something beyond it was found, so it is the end it was beyond.

    exact: what was wanted is a mark to hit and not an end. "" where there is nothing to compare.
    """
    if not isinstance(measured, int | float) or not isinstance(wanted, int | float) or measured == wanted:
        return ""
    if exact:
        return ABOUT
    return AT_MOST if measured > wanted else AT_LEAST


def figures(measured: float | str | None, wanted: float | str | None, unit: str, bound: str = "") -> str:
    """`measured 12 texels, wanted at most 1 texel`; "" where there is nothing to compare."""
    digits = 4
    if isinstance(measured, int | float) and isinstance(wanted, int | float) and measured != wanted:
        # What differs must not look the same: more digits until it does not.
        while digits < 9 and amount(measured, unit, digits) == amount(wanted, unit, digits):
            digits += 1
    parts = []
    if measured is not None:
        parts.append(f"measured {amount(measured, unit, digits)}")
    if wanted is not None:
        none = wanted == 0 and isinstance(wanted, int | float) and bound == AT_MOST
        parts.append("wanted none" if none else " ".join(filter(None, ("wanted", bound, amount(wanted, unit, digits)))))
    return ", ".join(parts)


def amount(value: float | str, unit: str, digits: int = 4) -> str:
    """`1 island`, `12,400 triangles`, `2.5 %`, `12 mm`, `1.8 to 1`; a text as it stands."""
    if isinstance(value, str):
        return f"tile {value}" if unit == "UDIM" else f"{value} {unit}" if value[:1].isdigit() and unit else value
    if unit == "share":
        return f"{number(value * 100, digits)} %"
    if unit == "m":
        return length(value, digits - 1)
    shown = f"{value:,}" if isinstance(value, int) else number(value, digits)
    if unit == "ratio":
        return f"{shown} to 1"
    return f"{shown} {_IN_WORDS.get(unit) or one_or_many(value, unit)}" if unit else shown


def with_unit(value: float | str, unit: str) -> str:
    """`1 island`, `0.5 degrees`, `0.02 share`: a number in the form in which rule files state it."""
    shown = f"{value:g}" if isinstance(value, float) else str(value)
    return f"{shown} {one_or_many(value, unit)}" if unit else shown


def one_or_many(value: float | str, unit: str) -> str:
    """The unit as it stands behind the number: `texel` behind 1, `texels` behind every other."""
    if value != 1 or unit.endswith("ss"):
        return unit
    return _ONE.get(unit) or unit.removesuffix("s")
