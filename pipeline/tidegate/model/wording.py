"""Numbers and lists as people read them. Pure text, shared by checks, reports and pictures."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

HUGE, TINY = 1e9, 1e-6  # numbers beyond are written with an exponent


def rounded(value: float, digits: int = 6) -> float:
    """`value` to `digits` significant digits, -0.0 folded to 0.0; NaN and infinities unchanged."""
    if value == 0 or not math.isfinite(value):
        return value + 0.0
    return round(value, digits - 1 - math.floor(math.log10(abs(value)))) + 0.0


def number(value: float, digits: int = 4) -> str:
    """A number for a sentence: `digits` significant digits, no trailing zeros; as `3.4e38` from HUGE on and below TINY,
    where nobody counts the zeros."""
    if not math.isfinite(value):
        return "infinite" if math.isinf(value) else "undefined"
    near = rounded(float(value), digits)
    if abs(near) >= HUGE or 0.0 < abs(near) < TINY:
        mantissa, exponent = f"{near:.{digits - 1}e}".split("e")
        return f"{mantissa.rstrip('0').rstrip('.') if '.' in mantissa else mantissa}e{int(exponent)}"
    if abs(near) >= 10 ** (digits - 1) or near == int(near):
        return f"{near:.0f}"
    text = f"{near:.{max(0, digits - 1 - math.floor(math.log10(abs(near))))}f}"
    return text.rstrip("0").rstrip(".")


def count(amount: int, one: str, many: str = "") -> str:
    """`1 island`, `3 islands`."""
    return f"{amount:,} {one if amount == 1 else many or one + 's'}"


def numbers(items: Iterable[int], most: int = 8) -> str:
    """Island numbers with runs drawn together: `1-3, 7, 9 and 12 more`."""
    ordered = sorted(set(items))
    runs: list[list[int]] = []
    for item in ordered:
        if runs and item == runs[-1][1] + 1:
            runs[-1][1] = item
        else:
            runs.append([item, item])
    shown, left = [], len(ordered)
    for low, high in runs[:most]:
        shown.append(str(low) if low == high else f"{low}-{high}")
        left -= high - low + 1
    text = ", ".join(shown)
    return f"{text} and {left} more" if left else text


def numbered(items: Iterable[int], most: int = 8) -> str:
    """`number 7`, `numbers 1-3, 7`: so that a number behind a file name does not read as part of it."""
    listed = sorted(set(items))
    return f"number{'' if len(listed) == 1 else 's'} {numbers(listed, most)}"


def one_of(words: Sequence[str], joined_by: str = "or") -> str:
    """`a`, `a or b`, `a, b or c`."""
    if len(words) <= 1:
        return "".join(words)
    return f"{', '.join(words[:-1])} {joined_by} {words[-1]}"


def bytes_text(amount: int) -> str:
    """`812 bytes`, `3.4 MiB`."""
    if amount < 1024:
        return count(amount, "byte")
    value = float(amount)
    for unit in ("KiB", "MiB", "GiB", "TiB"):
        value /= 1024
        if value < 1024 or unit == "TiB":
            return f"{number(value, 3)} {unit}"
    raise AssertionError("unreachable: TiB ends the loop")


def length(metres: float, digits: int = 3) -> str:
    """A length in the unit a person would use: `12 mm`, `45 cm`, `1.8 m`, `180 m`."""
    size = abs(metres)
    if not math.isfinite(size) or size >= 1 or size == 0:
        return f"{number(metres, digits)} m"
    if size >= 0.1:
        return f"{number(metres * 100, digits)} cm"
    return f"{number(metres * 1000, digits)} mm"
