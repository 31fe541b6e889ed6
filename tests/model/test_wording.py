"""Numbers and lists in sentences."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.model.wording import bytes_text, count, length, number, numbered, numbers, one_of, rounded


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0"),
        (-0.0, "0"),
        (1.0, "1"),
        (512.0, "512"),
        (511.96, "512"),
        (1295.269, "1295"),
        (123456.7, "123500"),
        (0.25, "0.25"),
        (0.000123456, "0.0001235"),
        (10.5, "10.5"),
        (-2.5, "-2.5"),
        (999_949_999.0, "999900000"),
        (999_950_000.0, "1e9"),  # rounded to four digits it is a thousand million
        (3.402823e38, "3.403e38"),
        (-3.0e38, "-3e38"),
        (0.000001, "0.000001"),
        (0.0000009994, "9.994e-7"),
        (1e-30, "1e-30"),
        (math.inf, "infinite"),
        (math.nan, "undefined"),
    ],
)
def test_number(value: float, text: str) -> None:
    assert number(value) == text


@given(st.floats(min_value=-1e12, max_value=1e12, allow_nan=False))
@settings(max_examples=60, deadline=None)
def test_a_written_number_is_the_rounded_value(value: float) -> None:
    # four significant digits: the text reads back as the value rounded to four, also where the text has more zeros
    assert float(number(value)) == pytest.approx(rounded(value, 4), rel=1e-12, abs=1e-300)


@pytest.mark.parametrize(
    ("items", "text"),
    [
        ([], ""),
        ([3], "3"),
        ([3, 1, 2], "1-3"),
        ([1, 2, 4, 4], "1-2, 4"),
        ([2, 1, 9, 7], "1-2, 7, 9"),
        (list(range(1, 21, 2)), "1, 3, 5, 7, 9, 11, 13, 15 and 2 more"),
        ([*range(1, 16, 2), 100, 101, 102], "1, 3, 5, 7, 9, 11, 13, 15 and 3 more"),
    ],
)
def test_numbers_draw_runs_together_and_count_the_rest(items: list[int], text: str) -> None:
    assert numbers(items) == text


def test_numbered_says_what_the_numbers_are() -> None:
    assert (numbered([7]), numbered([7, 7]), numbered([3, 1, 2])) == ("number 7", "number 7", "numbers 1-3")


def test_rounding_keeps_what_cannot_be_rounded() -> None:
    assert math.isnan(rounded(math.nan))
    assert rounded(-math.inf) == -math.inf
    assert math.copysign(1, rounded(-0.0)) == 1
    assert rounded(1295.26901) == 1295.27
    assert rounded(0.00012345678, 3) == 0.000123


def test_small_words() -> None:
    assert (count(1, "island"), count(0, "island"), count(12345, "leaf", "leaves")) == (
        "1 island",
        "0 islands",
        "12,345 leaves",
    )
    assert (one_of([]), one_of(["a"]), one_of(["a", "b"]), one_of(["a", "b", "c"])) == ("", "a", "a or b", "a, b or c")
    assert (bytes_text(1), bytes_text(1023), bytes_text(1024), bytes_text(3 * 1024**2 // 2)) == (
        "1 byte",
        "1,023 bytes",
        "1 KiB",
        "1.5 MiB",
    )
    assert (length(180.0), length(1.8), length(0.45), length(0.012), length(0.0)) == (
        "180 m",
        "1.8 m",
        "45 cm",
        "12 mm",
        "0 m",
    )
    assert (length(3.4e38), length(1e-12)) == ("3.4e38 m", "1e-9 mm")
