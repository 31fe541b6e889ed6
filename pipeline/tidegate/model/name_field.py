"""One field of the names scheme: which texts it takes, and the right spelling of one that it does not take."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from .name_words import cased, folded, plain_letters, shown, split_words
from .nearest import nearest

_MOST_DIGITS = 9


@dataclass(frozen=True, slots=True)
class ListedWord:
    """One entry of a vocabulary.

    meaning: the neutral value a reading gives. right: spellings that pass, the first is the one proposed.
    also_read: spellings that are understood and reported. numbered: a whole number follows ("lod" takes lod1, lod2 ...)
    and belongs to the meaning.
    """

    meaning: str
    right: tuple[str, ...]
    also_read: tuple[str, ...] = ()
    numbered: bool = False


@dataclass(frozen=True, slots=True)
class FieldText:
    """What a field makes of a piece of a name. value: neutral value. right: how it should be written, "" when that
    cannot be said. faults: sentences, empty when the piece passes."""

    value: str
    right: str
    faults: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NameField:
    """One field. With `words` it is listed, with `digits` it is a number, else it is free.

    before: joints that may stand in front of it, the first is the one proposed. prefix: text in front of a number.
    digits: how many. lowest, highest: of the number. casing, characters, shortest, longest (characters),
    several_words: forms of a free field. word_separator: stands between its words.
    """

    name: str
    before: tuple[str, ...] = ("_",)
    words: tuple[ListedWord, ...] = ()
    prefix: str = ""
    digits: int = 0
    lowest: int = 0
    highest: int = 999_999_999
    casing: str = "any"
    characters: frozenset[str] = frozenset()
    shortest: int = 1
    longest: int = 64
    several_words: bool = True
    word_separator: str = "_"
    _known: dict[tuple[str, ...], ListedWord] = field(default_factory=dict, init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        # Right spellings first, so that one entry's other spelling never hides another entry's right one.
        for word in self.words:
            for spelling in word.right:
                self._known.setdefault(spelling_key(spelling), word)
        for word in self.words:
            for spelling in word.also_read:
                self._known.setdefault(spelling_key(spelling), word)

    @property
    def free(self) -> bool:
        """It takes any word of the allowed form, so it cannot be recognised by its text."""
        return not self.words and not self.digits

    @property
    def longest_match(self) -> int:
        """Most words that one value of a listed or number field can have."""
        if self.digits:
            return 2
        return max((len(key) for key in self._known), default=0) + 1

    def recognises(self, key: tuple[str, ...]) -> bool:
        """Whether these folded words are a value of this listed or number field, right or not."""
        return self._listed(key) is not None if self.words else self._number(key) is not None

    def inner_joint_fits(self, joint: str) -> bool:
        """Whether a joint may stand between two words of a value."""
        if self.casing in ("capital", "camel"):
            return joint == ""
        return joint == self.word_separator or (self.casing == "any" and joint == "")

    def judge(self, text: str, words: Sequence[str], joints: Sequence[str]) -> FieldText:
        """What is wrong with a piece of a name. words, joints: the piece taken apart, joints between words only."""
        if self.words:
            return self._judge_listed(text, words)
        if self.digits:
            return self._judge_number(text, words)
        return self._judge_free(text, words, joints)

    def spelled(self, value: str) -> str:
        """The right spelling of a neutral value, "" when the field cannot hold it."""
        for word in self.words:
            if word.numbered:
                number = value.removeprefix(word.meaning)
                if value.startswith(word.meaning) and number.isdecimal() and number.isascii():
                    return word.right[0] + str(int(number[:_MOST_DIGITS]))
            elif word.meaning == value:
                return word.right[0] if word.right else ""
        if self.words:
            return ""
        split = split_words(value, self.characters)
        if self.digits:
            return self._judge_number(value, split.words).right
        return self._judge_free(value, split.words, split.joints[1:-1]).right

    def _listed(self, key: tuple[str, ...]) -> tuple[ListedWord, int] | None:
        word = self._known.get(key)
        if word is not None and not word.numbered:
            return word, -1
        if not key:
            return None
        stem = key[-1].rstrip("0123456789")
        digits = key[-1][len(stem) :]
        if not digits or len(digits) > _MOST_DIGITS:
            return None
        word = self._known.get((*key[:-1], stem) if stem else key[:-1])
        return (word, int(digits)) if word is not None and word.numbered else None

    def _judge_listed(self, text: str, words: Sequence[str]) -> FieldText:
        found = self._listed(folded(words))
        if found is None:
            known = [word.right[0] for word in self.words if word.right]
            hint = f"did you mean '{like}'?" if (like := nearest(text, known)) else f"its words are {', '.join(known)}"
            return FieldText(text, "", (f"{shown(text)} is no {self.name} word; {hint}",))
        word, number = found
        ending = str(number) if word.numbered else ""
        value = word.meaning + ending
        rights = tuple(spelling + ending for spelling in word.right)
        if text in rights:
            return FieldText(value, text)
        right = rights[0] if rights else ""
        return FieldText(value, right, (self._misspelled(text, value, right),))

    def _misspelled(self, text: str, value: str, right: str) -> str:
        if right:
            return f"{shown(text)} is no {self.name} word; did you mean '{right}'?"
        return f"{shown(text)} is no {self.name} word, though it is understood as {value}"

    def _number(self, key: tuple[str, ...]) -> int | None:
        if not 1 <= len(key) <= 2:
            return None
        text, prefix = "".join(key), self.prefix.casefold()
        digits = text.removeprefix(prefix)
        if not text.startswith(prefix) or not (digits.isascii() and digits.isdecimal()):
            return None
        if len(digits) > _MOST_DIGITS or (len(key) == 2 and key[0] != prefix):
            return None
        number = int(digits)
        # Without a prefix any number would do, so only one of exactly the right form counts.
        strict = not prefix
        if strict and (len(digits) != self.digits or not self.lowest <= number <= self.highest):
            return None
        return number

    def _judge_number(self, text: str, words: Sequence[str]) -> FieldText:
        number = self._number(folded(words))
        form = f"'{self.prefix}{'0' * (self.digits - 1)}1'" if self.prefix else f"{self.digits} digits"
        if number is None:
            return FieldText(text, "", (f"{shown(text)} is not a number written like {form}",))
        if not self.lowest <= number <= self.highest:
            return FieldText(text, "", (f"{shown(text)} lies outside {self.lowest} to {self.highest}",))
        right = f"{self.prefix}{number:0{self.digits}d}"
        if text == right:
            return FieldText(right, right)
        return FieldText(right, right, (f"{shown(text)} should be written with {self.digits} digits: '{right}'",))

    def _judge_free(self, text: str, words: Sequence[str], joints: Sequence[str]) -> FieldText:
        faults: list[str] = []
        strange = sorted({letter for word in words for letter in word if not self._may_hold(letter)})
        if strange:
            faults.append(
                f"{shown(text)} holds {', '.join(shown(one) for one in strange[:5])}"
                f"{' and more' if len(strange) > 5 else ''}, which the scheme does not allow"
            )
        separator = self.word_separator if self.several_words else ""
        if not self.several_words and len(words) > 1 and any(joints):
            faults.append(f"{shown(text)} is several words where one is wanted")
        plain = [plain_letters(word, self.characters) if self.characters else word for word in words]
        kept = [i for i, word in enumerate(plain) if word]
        right = cased(
            [plain[i] for i in kept],
            [_first_text(joints[kept[k - 1] : kept[k]]) for k in range(1, len(kept))],
            self.casing,
            separator,
        )
        # With a foreign letter in it the two differ anyway; then only the casing of what is left tells.
        as_cased = cased(words, joints, self.casing, separator)
        if not faults and text != as_cased:
            faults.append(f"{shown(text)} should be written {_casing_in_words(self.casing, separator)}")
        elif strange and as_cased != text:
            faults.append(f"words should be written {_casing_in_words(self.casing, separator)}")
        if len(text) > self.longest:
            faults.append(f"{shown(text)} is {len(text)} characters long where at most {self.longest} are allowed")
        if len(right) > self.longest:
            right = self._cut(right)
        if len(text) < self.shortest:
            faults.append(f"{shown(text)} is {len(text)} long where at least {self.shortest} characters are wanted")
        if len(right) < self.shortest:
            right = ""
        return FieldText(right or text, right if faults else text, tuple(faults))

    def _may_hold(self, letter: str) -> bool:
        return not self.characters or letter.lower() in self.characters or letter.upper() in self.characters

    def _cut(self, text: str) -> str:
        """The text cut between words where it has words, else where it must be."""
        cut = text[: self.longest]
        if (
            self.word_separator
            and self.word_separator in cut
            and not text[self.longest :].startswith(self.word_separator)
        ):
            shorter = cut.rsplit(self.word_separator, 1)[0]
            if len(shorter) >= max(self.shortest, self.longest // 2):
                return shorter
        return cut.removesuffix(self.word_separator) if self.word_separator else cut


def spelling_key(spelling: str) -> tuple[str, ...]:
    """The folded words of a spelling."""
    return folded(split_words(spelling).words)


def _first_text(joints: Sequence[str]) -> str:
    return next((joint for joint in joints if joint), "")


def _casing_in_words(casing: str, separator: str) -> str:
    between = f" with '{separator}' between words" if separator else " as one word"
    return {
        "lower": "in lower case" + between,
        "upper": "in upper case" + between,
        "capital": "with a capital at the start of each word and nothing between words",
        "camel": "with a capital at the start of each word but the first and nothing between words",
        "any": "without other characters than letters and digits" + between,
    }[casing]
