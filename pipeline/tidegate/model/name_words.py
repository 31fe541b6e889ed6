"""Names as words: where a name breaks into words, how words are put together, and how they are shown.

A name is words with joints between them. Everything that is neither letter nor digit is a joint; so is the place where
small letters turn to capitals ("FishCrate"), which is a joint of no characters.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

CASINGS = ("lower", "upper", "capital", "camel", "any")
"""How a value is written: fish_crate, FISH_CRATE, FishCrate, fishCrate, or as the artist likes."""

_MOST_WORDS = 32  # the middle of a longer name is read as one word, so that reading stays quick for any input
_SHOWN = 60

# Letters that fall apart into something else than letter plus accent. German and Nordic spelling practice.
_SPELLED_OUT = {
    "ä": "ae", "ö": "oe", "ü": "ue", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue", "ß": "ss", "ẞ": "SS", "æ": "ae", "Æ": "Ae",
    "ø": "oe", "Ø": "Oe", "å": "aa", "Å": "Aa", "œ": "oe", "Œ": "Oe", "þ": "th", "Þ": "Th", "ð": "d", "Ð": "D",
    "đ": "d", "Đ": "D", "ł": "l", "Ł": "L", "ı": "i",
}  # fmt: skip  # a list of words, not of lines


@dataclass(frozen=True, slots=True)
class Words:
    """words: the words of a name, never empty texts. joints: the text before each word and behind the last one,
    so one more than there are words; the joined sequence of both is the name."""

    words: tuple[str, ...]
    joints: tuple[str, ...]

    def text(self, start: int, stop: int) -> str:
        """The piece of the name from word `start` to before word `stop`, with the joints inside it."""
        return "".join(
            (self.joints[i] if i > start else "") + word for i, word in enumerate(self.words[start:stop], start)
        )


def split_words(name: str, extra: frozenset[str] = frozenset()) -> Words:
    """The words of a name. extra: characters that count as letters although they are none."""
    words: list[str] = []
    joints = [""]
    previous = ""
    for place, letter in enumerate(name):
        if not (letter.isalnum() or letter in extra or unicodedata.category(letter).startswith("M")):
            if previous == "":
                joints[-1] += letter
            else:
                joints.append(letter)
            previous = ""
        elif previous == "":
            words.append(letter)
            previous = letter
        elif _hump(previous, letter, name[place + 1 : place + 3]):
            joints.append("")
            words.append(letter)
            previous = letter
        else:
            words[-1] += letter
            previous = letter
    if len(joints) == len(words):
        joints.append("")
    return _shortened(Words(tuple(words), tuple(joints)))


def _hump(before: str, here: str, after: str) -> bool:
    """Whether a word begins at a letter. before: the letter before it. after: up to two letters behind it."""
    if not here.isupper():
        return False
    plural = after[:1] == "s" and not after[1:].isalpha()  # the s of "UVs"
    return before.islower() or ((before.isupper() or before.isdigit()) and after[:1].islower() and not plural)


def _shortened(split: Words) -> Words:
    count = len(split.words)
    if count <= _MOST_WORDS:
        return split
    half = _MOST_WORDS // 2
    middle = split.text(half, count - half)
    return Words(
        (*split.words[:half], middle, *split.words[count - half :]),
        (*split.joints[: half + 1], *split.joints[count - half :]),
    )


def folded(words: Sequence[str]) -> tuple[str, ...]:
    """Words as they are compared: no upper or lower case, one Unicode form."""
    return tuple(unicodedata.normalize("NFC", unicodedata.normalize("NFC", word).casefold()) for word in words)


def cased(words: Sequence[str], joints: Sequence[str], casing: str, separator: str) -> str:
    """Words put together. joints: what stood before each word but the first; only "any" looks at them, and keeps
    words together that ran together."""
    if casing == "lower":
        return separator.join(word.lower() for word in words)
    if casing == "upper":
        return separator.join(word.upper() for word in words)
    if casing == "capital":
        return "".join(word[:1].upper() + word[1:].lower() for word in words)
    if casing == "camel":
        return "".join(word.lower() if i == 0 else word[:1].upper() + word[1:].lower() for i, word in enumerate(words))
    text = words[0] if words else ""
    for joint, word in zip(joints, words[1:], strict=True):
        text += (separator if joint else "") + word
    return text


def plain_letters(word: str, allowed: frozenset[str]) -> str:
    """The word with the letters that are not allowed spelled out (ä to ae) or, where nothing is known, left out."""
    out: list[str] = []
    for letter in unicodedata.normalize("NFC", word):
        if letter.lower() in allowed or letter.upper() in allowed:
            out.append(letter)
            continue
        for piece in _SPELLED_OUT.get(letter) or unicodedata.normalize("NFKD", letter):
            if piece.lower() in allowed or piece.upper() in allowed:
                out.append(piece)
    return "".join(out)


def shown(text: str) -> str:
    """A piece of a name for a message: quoted, cut to a readable length, nothing in it that a terminal would obey."""
    cut = text if len(text) <= _SHOWN else text[: _SHOWN - 1] + "…"
    safe = "".join(letter if letter.isprintable() else f"\\u{{{ord(letter):x}}}" for letter in cut)
    return f"'{safe}'"
