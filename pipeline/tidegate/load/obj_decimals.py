"""Decimal and whole numbers read from text, thousands at a time.

A token is a run of bytes [start, end) in a uint8 array. The eight bytes that end a token are fetched as one 64-bit
word, bytes before the token are masked away, and three multiplications turn eight digits into a number (the
method of "SIMD within a register"). Every value equals what `float()` makes of the same text: with an integer
below 2**53 and a power of ten up to 10**22, both exact as doubles, IEEE 754 division rounds correctly once.
Tokens of any other form go through `float()` or `int()` one by one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Bytes = NDArray[np.uint8]
    Places = NDArray[np.intp]

PAD = 8
"""Bytes that must lie before the first token: words are fetched from before it and then masked."""

_U = np.uint64
_ZEROS = _U(0x3030303030303030)
_OVER_NINE = _U(0x7676767676767676)  # added to a byte above 9, it sets the byte's top bit
_TOP_BITS = _U(0x8080808080808080)
_KEEP_LAST = np.array([(0xFFFFFFFFFFFFFFFF << (8 * (8 - n))) & 0xFFFFFFFFFFFFFFFF for n in range(9)], dtype=_U)
_EXACT_TENS = 10.0 ** np.arange(23)
_WHOLE_TENS = 10 ** np.arange(10, dtype=np.int64)
_DOT, _MINUS, _PLUS = 46, 45, 43
_MOST_DIGITS = 8
_FAR = 2**31 - 1  # beyond every index; larger ones are all equally out of range


def words_of(text: Bytes) -> NDArray[np.uint64]:
    """Every eight neighbouring bytes as one little-endian word: item i holds bytes i .. i + 7. A view, no copy."""
    return np.ndarray((max(len(text) - 7, 0),), dtype="<u8", buffer=text.data, strides=(1,))


def digits_before(
    words: NDArray[np.uint64], ends: Places, lengths: Places
) -> tuple[NDArray[np.int64], bool | NDArray[np.bool_]]:
    """Whole numbers of up to eight digits that end before each place, and which of them are not digits only.

    The second result is False when all are. lengths: 0..8, an empty token is 0.
    """
    word = words[ends - 8]
    word ^= _ZEROS
    word &= _KEEP_LAST[lengths]
    over = word + _OVER_NINE
    over |= word
    over &= _TOP_BITS
    bad: bool | NDArray[np.bool_] = over != 0 if over.any() else False
    word *= _U(10 * 2**8 + 1)
    word >>= _U(8)
    word &= _U(0x00FF00FF00FF00FF)
    word *= _U(100 * 2**16 + 1)
    word >>= _U(16)
    word &= _U(0x0000FFFF0000FFFF)
    word *= _U(10_000 * 2**32 + 1)
    word >>= _U(32)
    return word.view(np.int64), bad


def parse_decimals(text: Bytes, starts: Places, ends: Places) -> tuple[NDArray[np.float64], Places]:
    """Values of the tokens, and which of them (numbers in `starts`) are no number at all and came out as NaN.

    text: starts at least `PAD` bytes before the first token. No token is empty.
    """
    first = text[starts]
    minus = first == _MINUS
    signed = minus | (first == _PLUS)
    starts = starts + signed
    dots, odd = _dot_of_each(text, starts, ends)
    whole_length, part_length = dots - starts, np.maximum(ends - dots - 1, 0)
    odd |= (whole_length > _MOST_DIGITS) | (part_length > _MOST_DIGITS) | (whole_length + part_length == 0)
    if odd.any():
        whole_length, part_length = np.where(odd, 0, whole_length), np.where(odd, 0, part_length)
    words = words_of(text)
    whole, bad_whole = digits_before(words, dots, whole_length)
    part, bad_part = digits_before(words, ends, part_length)
    odd |= bad_whole
    odd |= bad_part
    # At most 16 digits; 2**53 has 16 digits too, so the largest ones must go the slow way.
    whole *= _WHOLE_TENS[part_length]
    whole += part
    odd |= whole > 2**53
    values = whole.astype(np.float64)
    values /= _EXACT_TENS[part_length]
    np.negative(values, out=values, where=minus)
    wrong = []
    for i in np.flatnonzero(odd).tolist():
        values[i] = value = _one_decimal(text[starts[i] - signed[i] : ends[i]].tobytes())
        if value != value and not _is_nan_word(text[starts[i] : ends[i]].tobytes()):
            wrong.append(i)
    return values, np.array(wrong, dtype=np.intp)


def parse_wholes(text: Bytes, starts: Places, ends: Places) -> tuple[NDArray[np.int64], NDArray[np.bool_] | bool]:
    """Signed whole numbers of the tokens, held within +-(2**31 - 1), and which are none (False: all are good).

    text: as for `parse_decimals`. An empty token is 0.
    """
    minus = text[starts] == _MINUS
    relative = bool(minus.any())
    lengths = ends - starts
    if relative:
        lengths -= minus
    longest = int(lengths.max(initial=0))
    values, bad = digits_before(
        words_of(text), ends, lengths if longest <= _MOST_DIGITS else lengths.clip(0, _MOST_DIGITS)
    )
    if relative:
        np.negative(values, out=values, where=minus)
        bad = bad | (minus & (lengths == 0))
    if longest > _MOST_DIGITS:
        bad = bad | (lengths > _MOST_DIGITS)
    wrong = np.zeros(len(starts), dtype=bool)
    for i in np.flatnonzero(bad).tolist():
        whole = _one_whole(text[starts[i] : ends[i]].tobytes())
        values[i] = 0 if whole is None else max(-_FAR, min(_FAR, whole))
        wrong[i] = whole is None
    return values, wrong if wrong.any() else False


def _dot_of_each(text: Bytes, starts: Places, ends: Places) -> tuple[Places, NDArray[np.bool_]]:
    """Place of each token's decimal point, its end when it has none, and which have more than one."""
    odd = np.zeros(len(starts), dtype=bool)
    if not len(starts):
        return ends, odd
    low = int(starts[0])
    dots = np.flatnonzero(text[low : int(ends[-1])] == _DOT)
    dots += low
    if len(dots) == len(starts) and bool(((dots >= starts) & (dots < ends)).all()):
        return dots, odd
    owner = np.searchsorted(starts, dots, side="right") - 1
    inside = dots < ends[owner]
    owner, dots = owner[inside], dots[inside]
    place = ends.copy()
    place[owner] = dots
    odd[owner[1:][owner[1:] == owner[:-1]]] = True
    return place, odd


def _one_decimal(token: bytes) -> float:
    try:
        return float(token) if b"_" not in token else float("nan")
    except ValueError:
        return float("nan")


def _is_nan_word(token: bytes) -> bool:
    return token.lower() == b"nan"


def _one_whole(token: bytes) -> int | None:
    if len(token) > 1 and token[:1] in b"+-":
        digits, sign = token[1:], -1 if token[:1] == b"-" else 1
    else:
        digits, sign = token, 1
    if not digits.isdigit():
        return None
    # Python refuses to convert thousands of digits, and no index is that large.
    digits = digits.lstrip(b"0")
    return sign * (int(digits or b"0") if len(digits) <= 10 else _FAR)
