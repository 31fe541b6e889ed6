"""The names scheme as a TOML table: what may stand in it, and the parts made from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from .name_field import ListedWord, NameField, spelling_key
from .name_words import CASINGS
from .nearest import did_you_mean

KINDS = ("folder", "mesh", "map", "master", "node", "material")
CHANNELS = ("rgb", "rgba", "r", "g", "b", "a")
_CHANNEL_WORDS = {"red": "r", "green": "g", "blue": "b", "alpha": "a"}

_TOP = ("separator", "word_separator", "master_suffixes", "fields", "kinds", "slots", "packed", "roles")
_FIELD = (
    "before", "words", "prefix", "digits", "lowest", "highest", "casing", "characters", "shortest", "longest",
    "several_words",
)  # fmt: skip  # a list of words, not of lines
_WORD = ("right", "also_read")
_ROLE = ("right", "also_read", "numbered")
_KIND = ("order", "wanted")


@dataclass(frozen=True, slots=True)
class SchemeFault:
    """One mistake in a names scheme. keys: from the root of the table down, an item of a list is its number."""

    keys: tuple[str | int, ...]
    what: str
    help: str = ""


@dataclass(frozen=True, slots=True)
class SchemeParts:
    """The scheme ready for use. slots: map word -> (slot, channels) pairs. kinds: kind -> (fields in order, wanted)."""

    separator: str
    fields: Mapping[str, NameField]
    kinds: Mapping[str, tuple[tuple[str, ...], frozenset[str]]]
    slots: Mapping[str, tuple[tuple[str, str], ...]]
    master_suffixes: tuple[str, ...]


class _Table:
    """Takes values out of tables and collects what is wrong with them."""

    def __init__(self) -> None:
        self.faults: list[SchemeFault] = []

    def fault(self, keys: tuple[str | int, ...], what: str, help: str = "") -> None:
        self.faults.append(SchemeFault(keys, what, help))

    def unknown(self, table: Mapping[str, Any], allowed: tuple[str, ...], keys: tuple[str | int, ...]) -> None:
        for key in table:
            if key not in allowed:
                self.fault((*keys, key), f"unknown key `{key}`", did_you_mean(key, allowed))

    def table(self, table: Mapping[str, Any], key: str, keys: tuple[str | int, ...]) -> Mapping[str, Any]:
        value = table.get(key, {})
        if isinstance(value, Mapping):
            return value
        self.fault((*keys, key), f"`{key}` must be a table")
        return {}

    def text(self, table: Mapping[str, Any], key: str, default: str, keys: tuple[str | int, ...]) -> str:
        value = table.get(key, default)
        if isinstance(value, str):
            return value
        self.fault((*keys, key), f"`{key}` must be a text in quotes")
        return default

    def number(
        self, table: Mapping[str, Any], key: str, default: int, low: int, high: int, keys: tuple[str | int, ...]
    ) -> int:
        value = table.get(key, default)
        if isinstance(value, int) and not isinstance(value, bool) and low <= value <= high:
            return value
        self.fault((*keys, key), f"`{key}` must be a whole number from {low} to {high}")
        return default

    def flag(self, table: Mapping[str, Any], key: str, default: bool, keys: tuple[str | int, ...]) -> bool:
        value = table.get(key, default)
        if isinstance(value, bool):
            return value
        self.fault((*keys, key), f"`{key}` must be true or false")
        return default

    def texts(
        self, table: Mapping[str, Any], key: str, default: tuple[str, ...], keys: tuple[str | int, ...]
    ) -> tuple[str, ...]:
        value = table.get(key, default)
        if not isinstance(value, (list, tuple)):
            self.fault((*keys, key), f"`{key}` must be a list of texts")
            return default
        for i, item in enumerate(value):
            if not isinstance(item, str) or not item:
                self.fault((*keys, key, i), "this item must be a text that is not empty")
                return default
        return tuple(value)

    def choice(
        self, table: Mapping[str, Any], key: str, default: str, choices: tuple[str, ...], keys: tuple[str | int, ...]
    ) -> str:
        value = self.text(table, key, default, keys)
        if value in choices:
            return value
        self.fault((*keys, key), f"`{key}` cannot be '{value}'", did_you_mean(value, choices))
        return default


def read_table(table: Mapping[str, Any]) -> tuple[SchemeParts, tuple[SchemeFault, ...]]:
    """The parts of a scheme and everything wrong with its table, in the order of the table. Never raises."""
    take = _Table()
    take.unknown(table, _TOP, ())
    separator = _joint(take, table, "separator", "_")
    word_separator = _joint(take, table, "word_separator", separator)
    slots, map_words = _slots(take, table)
    roles = _roles(take, table)
    fields: dict[str, NameField] = {}
    for name, form in take.table(table, "fields", ()).items():
        keys = ("fields", name)
        if not isinstance(form, Mapping):
            take.fault(keys, f"field `{name}` must be a table")
            continue
        fields[name] = _field(take, name, form, keys, separator, word_separator, map_words, roles)
    kinds = _kinds(take, table, fields)
    masters = tuple(one.lower() for one in take.texts(table, "master_suffixes", (), ()))
    for i, suffix in enumerate(masters):
        if not suffix.startswith(".") or len(suffix) < 2:
            take.fault(("master_suffixes", i), f"'{suffix}' is no file suffix", "write it with its point: '.psd'")
    return SchemeParts(separator, fields, kinds, slots, masters), tuple(take.faults)


def _joint(take: _Table, table: Mapping[str, Any], key: str, default: str) -> str:
    value = take.text(table, key, default, ())
    if value and not any(letter.isalnum() or letter in '/\\<>:"|?*' or not letter.isprintable() for letter in value):
        return value
    take.fault((key,), f"`{key}` must be one or more signs that are neither letters nor digits and safe in file names")
    return default


def _field(
    take: _Table,
    name: str,
    form: Mapping[str, Any],
    keys: tuple[str | int, ...],
    separator: str,
    word_separator: str,
    map_words: tuple[ListedWord, ...],
    roles: tuple[ListedWord, ...],
) -> NameField:
    take.unknown(form, _FIELD, keys)
    words: tuple[ListedWord, ...]
    if name in ("map", "role"):
        if "words" in form:
            place = "[slots] and [packed]" if name == "map" else "[roles]"
            take.fault((*keys, "words"), f"the words of `{name}` stand in {place}")
        words = map_words if name == "map" else roles
    else:
        words = _words(take, form, keys)
    digits = take.number(form, "digits", 0, 0, 9, keys)
    if words and digits:
        take.fault((*keys, "digits"), "a field has either listed words or a number, not both")
    if form.get("prefix") and not digits:
        take.fault((*keys, "prefix"), "`prefix` stands in front of a number, so `digits` must say how many digits")
    lowest = take.number(form, "lowest", 0, 0, 999_999_999, keys)
    highest = take.number(form, "highest", 10 ** max(1, digits) - 1, 0, 999_999_999, keys)
    if lowest > highest:
        take.fault((*keys, "lowest"), "`lowest` is larger than `highest`")
    shortest = take.number(form, "shortest", 1, 1, 200, keys)
    longest = take.number(form, "longest", 64, 1, 200, keys)
    if shortest > longest:
        take.fault((*keys, "shortest"), "`shortest` is larger than `longest`")
    return NameField(
        name,
        before=take.texts(form, "before", (separator,), keys) or (separator,),
        words=words,
        prefix=take.text(form, "prefix", "", keys),
        digits=0 if words else digits,
        lowest=lowest,
        highest=highest,
        casing=take.choice(form, "casing", "any", CASINGS, keys),
        characters=_characters(take, form, keys),
        shortest=shortest,
        longest=longest,
        several_words=take.flag(form, "several_words", True, keys),
        word_separator=word_separator,
    )


def _characters(take: _Table, form: Mapping[str, Any], keys: tuple[str | int, ...]) -> frozenset[str]:
    found: set[str] = set()
    for i, item in enumerate(take.texts(form, "characters", ("a-z", "0-9"), keys)):
        if len(item) == 1:
            found.add(item)
        elif len(item) == 3 and item[1] == "-" and item[0] <= item[2] and ord(item[2]) - ord(item[0]) < 1000:
            found.update(chr(code) for code in range(ord(item[0]), ord(item[2]) + 1))
        else:
            take.fault((*keys, "characters", i), f"'{item}' is neither one character nor a range such as 'a-z'")
    return frozenset(found)


def _words(take: _Table, form: Mapping[str, Any], keys: tuple[str | int, ...]) -> tuple[ListedWord, ...]:
    value = form.get("words", [])
    if isinstance(value, Mapping):
        return tuple(
            ListedWord(word, (word,), take.texts(value, word, (), (*keys, "words")))
            for word in value
            if _is_spelling(take, word, (*keys, "words", word))
        )
    return tuple(
        ListedWord(word, (word,))
        for i, word in enumerate(take.texts(form, "words", (), keys))
        if _is_spelling(take, word, (*keys, "words", i))
    )


def _is_spelling(take: _Table, spelling: str, keys: tuple[str | int, ...]) -> bool:
    if spelling_key(spelling):
        return True
    take.fault(keys, f"'{spelling}' holds neither a letter nor a digit")
    return False


def _entry(
    take: _Table, name: str, form: Mapping[str, Any], keys: tuple[str | int, ...], numbered: bool = False
) -> ListedWord:
    right = take.texts(form, "right", (name,), keys)
    also = take.texts(form, "also_read", (), keys)
    if not right:
        take.fault((*keys, "right"), "at least one right spelling is needed")
    for key, spellings in (("right", right), ("also_read", also)):
        for i, spelling in enumerate(spellings):
            _is_spelling(take, spelling, (*keys, key, i))
    return ListedWord(name, right, also, numbered)


def _slots(
    take: _Table, table: Mapping[str, Any]
) -> tuple[dict[str, tuple[tuple[str, str], ...]], tuple[ListedWord, ...]]:
    slots: dict[str, tuple[tuple[str, str], ...]] = {}
    words: list[ListedWord] = []
    single = take.table(table, "slots", ())
    for name, form in single.items():
        keys = ("slots", name)
        if not isinstance(form, Mapping):
            take.fault(keys, f"slot `{name}` must be a table")
            continue
        take.unknown(form, (*_WORD, "channels"), keys)
        words.append(_entry(take, name, form, keys))
        slots[name] = ((name, take.choice(form, "channels", "rgb", CHANNELS, keys)),)
    for name, form in take.table(table, "packed", ()).items():
        keys = ("packed", name)
        if not isinstance(form, Mapping):
            take.fault(keys, f"packed map `{name}` must be a table")
            continue
        take.unknown(form, (*_WORD, *_CHANNEL_WORDS), keys)
        if name in slots:
            take.fault(keys, f"`{name}` is already a slot")
        words.append(_entry(take, name, form, keys))
        channels: dict[str, str] = {}
        for word, channel in _CHANNEL_WORDS.items():
            if word in form:
                slot = take.choice(form, word, "", tuple(single), keys)
                channels[slot] = channels.get(slot, "") + channel
        if not channels:
            take.fault(keys, f"packed map `{name}` says for no channel what it holds", "write for example red = ...")
        slots[name] = tuple(channels.items())
    _no_double_spelling(take, words, ("slots",))
    return slots, tuple(words)


def _roles(take: _Table, table: Mapping[str, Any]) -> tuple[ListedWord, ...]:
    words: list[ListedWord] = []
    for name, form in take.table(table, "roles", ()).items():
        keys = ("roles", name)
        if not isinstance(form, Mapping):
            take.fault(keys, f"role `{name}` must be a table")
            continue
        take.unknown(form, _ROLE, keys)
        words.append(_entry(take, name, form, keys, take.flag(form, "numbered", False, keys)))
    _no_double_spelling(take, words, ("roles",))
    return tuple(words)


def _no_double_spelling(take: _Table, words: list[ListedWord], keys: tuple[str | int, ...]) -> None:
    seen: dict[tuple[str, ...], str] = {}
    for word in words:
        for spelling in (*word.right, *word.also_read):
            other = seen.setdefault(spelling_key(spelling), word.meaning)
            if other != word.meaning:
                take.fault((*keys, word.meaning), f"'{spelling}' already stands for `{other}`")


def _kinds(
    take: _Table, table: Mapping[str, Any], fields: Mapping[str, NameField]
) -> dict[str, tuple[tuple[str, ...], frozenset[str]]]:
    kinds: dict[str, tuple[tuple[str, ...], frozenset[str]]] = {}
    given = take.table(table, "kinds", ())
    take.unknown(given, KINDS, ("kinds",))
    for kind, form in given.items():
        keys = ("kinds", kind)
        if not isinstance(form, Mapping):
            take.fault(keys, f"kind `{kind}` must be a table")
            continue
        take.unknown(form, _KIND, keys)
        order: list[str] = []
        for i, name in enumerate(take.texts(form, "order", (), keys)):
            if name not in fields:
                take.fault((*keys, "order", i), f"no field is called `{name}`", did_you_mean(name, fields))
            elif name in order:
                take.fault((*keys, "order", i), f"`{name}` stands in the order twice")
            else:
                order.append(name)
        wanted = take.texts(form, "wanted", (), keys)
        for i, name in enumerate(wanted):
            if name not in order:
                take.fault((*keys, "wanted", i), f"`{name}` is not in the order of a {kind} name")
        if not order:
            take.fault(keys, f"the order of a {kind} name holds no field")
        kinds[kind] = (tuple(order), frozenset(wanted))
    return kinds
