"""Slips of the finger: a listed word with one letter left out, one too many, or two swapped.

Another letter in place of one is not taken for a slip: `handhold` is a word of its own and not a misspelt `handheld`.
"""

from __future__ import annotations

from collections.abc import Iterable

SHORTEST = 6  # letters; in shorter words one letter makes another word too often


def slip_of(word: str, right_words: Iterable[str]) -> str:
    """The listed word that `word` is a slip of, "" when it is none of any. Case does not count."""
    typed = word.casefold()
    for right in right_words:
        meant = right.casefold()
        if (
            len(meant) >= SHORTEST
            and typed != meant
            and (_one_less(meant, typed) or _one_less(typed, meant) or _swapped(typed, meant))
        ):
            return right
    return ""


def _one_less(longer: str, shorter: str) -> bool:
    """Whether `shorter` is `longer` without one letter."""
    if len(longer) != len(shorter) + 1:
        return False
    at = next((i for i, letter in enumerate(shorter) if letter != longer[i]), len(shorter))
    return longer[at + 1 :] == shorter[at:]


def _swapped(one: str, other: str) -> bool:
    """Whether the two differ by two neighbouring letters that changed places."""
    if len(one) != len(other):
        return False
    at = [i for i in range(len(one)) if one[i] != other[i]]
    return len(at) == 2 and at[1] == at[0] + 1 and one[at[0]] == other[at[1]] and one[at[1]] == other[at[0]]
