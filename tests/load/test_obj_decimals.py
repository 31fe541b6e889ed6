"""Numbers read by words of eight bytes equal what Python reads, to the last bit."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.load.obj_decimals import PAD, parse_decimals, parse_wholes


def places(tokens: list[str]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The tokens with one blank between them, where each starts and where it ends."""
    text = " " * PAD + " ".join(tokens) + "\n"
    starts, at = [], PAD
    for token in tokens:
        starts.append(at)
        at += len(token.encode()) + 1
    ends = [start + len(token.encode()) for start, token in zip(starts, tokens, strict=True)]
    return np.frombuffer(text.encode(), dtype=np.uint8), np.array(starts), np.array(ends)


def decimals(*tokens: str) -> list[float]:
    values, wrong = parse_decimals(*places(list(tokens)))
    assert not len(wrong)
    return values.tolist()


plain_decimal = st.builds(
    lambda sign, whole, part: f"{sign}{whole}.{part}" if whole or part else "0",
    st.sampled_from(["", "-", "+"]),
    st.text("0123456789", max_size=12),
    st.text("0123456789", max_size=12),
)
any_float = st.floats(allow_nan=False, width=64).map(repr)


@settings(max_examples=60, deadline=None)
@given(st.lists(plain_decimal | any_float | st.integers(-(10**20), 10**20).map(str), min_size=1, max_size=30))
def test_equals_float_bit_for_bit(tokens: list[str]) -> None:
    values, wrong = parse_decimals(*places(tokens))
    assert not len(wrong)
    assert values.tobytes() == np.array([float(token) for token in tokens]).tobytes()


@pytest.mark.parametrize(
    ("token", "value"),
    [
        ("0.1", 0.1),
        ("-0.3", -0.3),
        ("12345678.87654321", 12345678.87654321),  # sixteen digits, the most the fast way takes
        ("90071992.54740993", 90071992.54740993),  # 2**53 + 1 over 10**8: an integer that no double holds
        ("99999999.99999999", 99999999.99999999),
        ("123456789.5", 123456789.5),  # nine digits before the point
        (".5", 0.5),
        ("5.", 5.0),
        ("+7", 7.0),
        ("1e-3", 0.001),
        ("1E5", 100000.0),
        ("1e400", math.inf),
        ("-inf", -math.inf),
    ],
)
def test_known_values(token: str, value: float) -> None:
    # Beside others, as a lone token and beside one without a point: the ways a point is looked for differ.
    assert decimals(token) == [value]
    assert decimals("1.5", token, "22") == [1.5, value, 22.0]


def test_minus_zero_keeps_its_sign() -> None:
    assert math.copysign(1.0, decimals("-0.000")[0]) == -1.0


@pytest.mark.parametrize(
    "token", ["1,5", "1.2.3", "--1", "+-1", "-", "+", ".", "1_000", "0x10", "abc", "1.#QNAN", "é", "1e"]
)
def test_what_is_no_number_is_told_and_is_nan(token: str) -> None:
    values, wrong = parse_decimals(*places(["1.5", token, "2.5"]))
    assert wrong.tolist() == [1]
    assert values[0] == 1.5 and math.isnan(values[1]) and values[2] == 2.5


def test_nan_itself_is_a_number_that_can_be_written() -> None:
    values, wrong = parse_decimals(*places(["nan", "-NaN"]))
    assert np.isnan(values).all() and not len(wrong)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(-(10**25), 10**25), min_size=1, max_size=30))
def test_whole_numbers_equal_int_within_31_bits(numbers: list[int]) -> None:
    values, wrong = parse_wholes(*places([str(number) for number in numbers]))
    assert wrong is False
    far = 2**31 - 1
    assert values.tolist() == [max(-far, min(far, number)) for number in numbers]


def test_whole_numbers_at_the_eight_digit_edge() -> None:
    tokens = ["99999999", "100000000", "-99999999", "-100000000", "00000000012", "+5", "0", "-0"]
    values, wrong = parse_wholes(*places(tokens))
    assert wrong is False
    assert values.tolist() == [99999999, 100000000, -99999999, -100000000, 12, 5, 0, 0]


@pytest.mark.parametrize("token", ["1.0", "x", "1-", "--1", "-", "1_0", "²"])
def test_what_is_no_whole_number_is_told(token: str) -> None:
    values, wrong = parse_wholes(*places(["3", token, "-4"]))
    assert np.asarray(wrong).tolist() == [False, True, False]
    assert (values[0], values[2]) == (3, -4)
