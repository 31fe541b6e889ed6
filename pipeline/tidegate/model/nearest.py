"""The right word that a mistyped one most likely meant."""

from __future__ import annotations

from collections.abc import Iterable

_ALIKE = 0.6
"""Share of agreeing letters from which two words count as alike; found by trying, `common practice, no source`."""

_SURE = 0.8
"""Up to this share a word that the mistyped one begins goes first; found by trying, `common practice, no source`."""


def nearest(word: str, words: Iterable[str], alike: float = _ALIKE) -> str:
    """The one of `words` that is most like `word`, "" when none is alike.

    Upper and lower case, hyphens, underscores and spaces do not count. Before words that are only fairly alike goes the
    one that `word` begins, so "quiet" finds "quiet_seconds". With no alike word, one that contains `word` is
    taken, so "density" finds "texel-density-out-of-range"; not where more than the usual share of letters, `alike`, must
    agree. Ties go to the first in alphabetical order.
    """
    from difflib import SequenceMatcher

    wanted = _plain(word)
    if not wanted:
        return ""
    best, best_share = "", 0.0
    ordered = sorted(set(words))
    for candidate in ordered:
        share = SequenceMatcher(None, wanted, _plain(candidate), autojunk=False).ratio()
        if share > best_share:
            best, best_share = candidate, share
    if alike <= _ALIKE and len(wanted) > 3 and best_share < _SURE:
        begun = [candidate for candidate in ordered if _plain(candidate).startswith(wanted)]
        if len(begun) == 1:
            return begun[0]
    if best_share >= alike:
        return best
    if alike > _ALIKE:
        return ""
    containing = [candidate for candidate in ordered if len(wanted) > 2 and wanted in _plain(candidate)]
    return min(containing, key=len, default="")


def did_you_mean(word: str, words: Iterable[str]) -> str:
    """A help sentence for an unknown word: the nearest right one, else all of them when they are few, else ""."""
    ordered = sorted(set(words))
    best = nearest(word, ordered)
    if best:
        return f"did you mean `{best}`?"
    if 0 < len(ordered) <= 12:
        return "known here: " + ", ".join(f"`{one}`" for one in ordered)
    return ""


def _plain(word: str) -> str:
    return word.casefold().replace("-", "").replace("_", "").replace(" ", "")
