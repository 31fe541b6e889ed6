"""Whether a value may stand for a limit, and the one form in which it is kept."""

from __future__ import annotations

from typing import Any

from .amounts import with_unit
from .check import Limit
from .nearest import did_you_mean

OFF = "off"
"""What a rule writes to switch off a limit that is off by default and was set by the set it starts from."""

KINDS = ("number", "integer", "text", "boolean", "texts", "numbers", "range", "choice", "table")

_LARGEST = 1e300  # beyond it a whole number has no float; the comparison refuses NaN and the infinities too


class WrongValue(ValueError):
    """A value that a limit does not take. expected, came, help as in TidegateError."""

    def __init__(self, what: str, expected: str, came: str, help: str = "") -> None:
        super().__init__(what)
        self.what, self.expected, self.came, self.help = what, expected, came, help


def accepted(limit: Limit, value: Any) -> Any:
    """The value in its kept form: numbers as float, lists as tuple, tables sorted by key; None for off.

    So 512 and 512.0 are one value and rule sets that mean the same compare equal. Raises WrongValue.
    """
    if limit.default is None and (value is None or value == OFF):
        return None
    match limit.kind:
        case "number":
            return _number(limit, value)
        case "integer":
            return _integer(limit, value)
        case "text":
            return _text(limit, value)
        case "boolean":
            return _boolean(limit, value)
        case "choice":
            return _choice(limit, value)
        case "texts":
            return tuple(_text(limit, item, "a list of texts") for item in _list(limit, value, "a list of texts"))
        case "numbers":
            return tuple(_number(limit, item, "a list of numbers") for item in _list(limit, value, "a list of numbers"))
        case "range":
            return _range(limit, value)
        case "table":
            return _table(limit, value)
        case _:
            raise AssertionError(f"limit {limit.name} has the unknown kind {limit.kind}")


def bounds_text(limit: Limit) -> str:
    """`from 0 to 90 degrees`, `at least 1`, or "" when nothing bounds the limit."""
    if limit.low is not None and limit.high is not None:
        return f"from {limit.low:g} to {with_unit(float(limit.high), limit.unit)}"
    if limit.low is not None:
        return f"at least {with_unit(float(limit.low), limit.unit)}"
    if limit.high is not None:
        return f"at most {with_unit(float(limit.high), limit.unit)}"
    return ""


def _wrong_kind(limit: Limit, value: Any, expected: str) -> WrongValue:
    return WrongValue(f"`{limit.name}` takes {expected}", expected, f"{kind_of(value)} {shown(value)}")


def kind_of(value: Any) -> str:
    """What a TOML value is, in words."""
    kinds = (
        (bool, "a truth value"),
        (int, "a whole number"),
        (float, "a number"),
        (str, "a text"),
        (list, "a list"),
        (dict, "a table"),
    )
    return next((words for kind, words in kinds if isinstance(value, kind)), "a date or time")


def shown(value: Any) -> str:
    """A value as TOML writes it, shortened."""
    if isinstance(value, bool):
        text = "true" if value else "false"
    elif isinstance(value, str):
        text = f'"{value}"'
    else:
        text = str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _number(limit: Limit, value: Any, expected: str = "a number") -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not -_LARGEST <= value <= _LARGEST:
        raise _wrong_kind(limit, value, expected)
    _in_bounds(limit, value)
    return float(value)


def _integer(limit: Limit, value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise _wrong_kind(limit, value, "a whole number")
    _in_bounds(limit, value)
    return value


def _in_bounds(limit: Limit, value: float) -> None:
    too_low = limit.low is not None and value < limit.low
    too_high = limit.high is not None and value > limit.high
    if too_low or too_high:
        raise WrongValue(f"`{limit.name}` is out of bounds", bounds_text(limit), shown(value))


def _text(limit: Limit, value: Any, expected: str = "a text") -> str:
    if not isinstance(value, str):
        raise _wrong_kind(limit, value, expected)
    if limit.choices and value not in limit.choices:
        raise _no_choice(limit, value)
    return value


def _boolean(limit: Limit, value: Any) -> bool:
    if not isinstance(value, bool):
        raise _wrong_kind(limit, value, "true or false")
    return value


def _choice(limit: Limit, value: Any) -> str:
    if not isinstance(value, str):
        raise _wrong_kind(limit, value, _one_of(limit))
    if value not in limit.choices:
        raise _no_choice(limit, value)
    return value


def _no_choice(limit: Limit, value: str) -> WrongValue:
    return WrongValue(
        f"`{limit.name}` does not know {shown(value)}", _one_of(limit), shown(value), did_you_mean(value, limit.choices)
    )


def _one_of(limit: Limit) -> str:
    return "one of " + ", ".join(f'"{choice}"' for choice in limit.choices)


def _list(limit: Limit, value: Any, expected: str) -> list[Any]:
    if not isinstance(value, list | tuple):
        raise _wrong_kind(limit, value, expected)
    return list(value)


def _range(limit: Limit, value: Any) -> tuple[float, float]:
    expected = "a range [lowest, highest]"
    items = _list(limit, value, expected)
    if len(items) != 2:
        raise _wrong_kind(limit, value, expected)
    low, high = (_number(limit, item, expected) for item in items)
    if low > high:
        raise WrongValue(
            f"`{limit.name}` is a range turned round", expected, shown(value), f"write [{high:g}, {low:g}]"
        )
    return low, high


def _table(limit: Limit, value: Any) -> dict[str, float | str]:
    expected = "a table of numbers or texts"
    if not isinstance(value, dict):
        raise _wrong_kind(limit, value, expected)
    return {
        str(key): item if isinstance(item, str) else _number(limit, item, expected)
        for key, item in sorted(value.items())
    }
