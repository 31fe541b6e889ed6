"""How names are read: into fields, with what is wrong field by field and a name that would pass.

A name is never compared with one pattern. Its words are laid out over the fields of its kind (`name_segments`), each
field judges its own words (`name_field`), and what is wrong is the difference between the name and the name those
fields would give. So a proposal is the same fields written right, and it is read again before it is shown.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import takewhile
from typing import Any

from tidegate.errors import AskedWrongly

from .name_field import FieldText, NameField, spelling_key
from .name_segments import Layout, lay_out
from .name_slips import slip_of
from .name_table import SchemeFault, SchemeParts, read_table
from .name_words import Words, folded, shown, split_words
from .nearest import nearest
from .portable_names import name_faults
from .wording import one_of

_FILE_KINDS = ("mesh", "map", "master")
_LONGEST_SUFFIX = 9
_NEARLY = 0.8  # share of agreeing letters from which the end of a name is a mistyped word; `common practice, no source`
_LONGEST_READ = 4096  # characters of a name that are read; no disk stores a longer one


@dataclass(frozen=True, slots=True)
class NameReading:
    """How one name was read by the scheme.

    name: the text. kind: "folder", "mesh", "map", "master", "node", "material". path: file it belongs to.
    fields: (field, value) pairs in order. problems: (field, what is wrong) pairs. proposal: a name that the scheme reads
    without a problem, "" when none could be made. doubts: (field, what else it could be) pairs of a name that passes.
    form: how such a name is put together, told where there are problems. written: the asset as it stands in the name, with
    every sign that touches it and is no separator; its value where it is written right, "" where the name states none.
    """

    name: str
    kind: str
    path: str
    fields: tuple[tuple[str, str], ...] = ()
    problems: tuple[tuple[str, str], ...] = ()
    proposal: str = ""
    doubts: tuple[tuple[str, str], ...] = ()
    form: str = ""
    written: str = ""

    def field(self, name: str) -> str:
        """Value of a field, "" when the name does not hold it."""
        return dict(self.fields).get(name, "")


@dataclass(frozen=True, slots=True, eq=False)
class NameScheme:
    """A names scheme ready to read with. Make it with `read_scheme`."""

    parts: SchemeParts

    def read(
        self,
        name: str,
        kind: str,
        path: str = "",
        assets: Iterable[str] = (),
        hints: Mapping[str, str] | None = None,
    ) -> NameReading:
        """The fields of a name and what is wrong with it. Never raises, whatever the name is.

        kind: see `NameReading`; a kind the scheme says nothing about is read as no fields and no problems. Names of
        meshes, maps and masters carry their file suffix. assets: names of assets known from elsewhere (mesh files,
        an order list); they decide where an asset ends and a variant begins. hints: values known from elsewhere by
        field (the slot a material puts the map in); they fill missing fields of the proposal, never the fields read.
        """
        if kind not in self.parts.kinds:
            return NameReading(name, kind, path)
        known = tuple(dict.fromkeys(assets))
        taken = self._take_apart(name, kind, known)
        proposal = ""
        if taken.problems:
            values = dict(taken.rights)
            for field, value in (hints or {}).items():
                if field in self.parts.fields and not values.get(field):
                    values[field] = self.parts.fields[field].spelled(value)
            if len(known) == 1 and not values.get("asset") and "asset" in self.parts.fields:
                values["asset"] = self.parts.fields["asset"].spelled(known[0])
            proposal = self._proven(kind, values, taken.suffix.lower(), known)
        order, wanted = self.parts.kinds[kind]
        form = _form([self.parts.fields[one] for one in order], wanted) if taken.problems else ""
        return NameReading(name, kind, path, taken.fields, taken.problems, proposal, taken.doubts, form, taken.written)

    def propose(self, name: str, kind: str, assets: Iterable[str] = (), hints: Mapping[str, str] | None = None) -> str:
        """A name in place of this one that reads without a problem, "" when none can be made.

        A name that already passes is its own proposal, unless hints say that it names the wrong thing: unlike in
        `read`, hints here replace what the name says.
        """
        if kind not in self.parts.kinds:
            return name
        known = tuple(dict.fromkeys(assets))
        taken = self._take_apart(name, kind, known)
        values = dict(taken.rights)
        for field, value in (hints or {}).items():
            if field in self.parts.fields:
                values[field] = self.parts.fields[field].spelled(value)
        if len(known) == 1 and not values.get("asset") and "asset" in self.parts.fields:
            values["asset"] = self.parts.fields["asset"].spelled(known[0])
        return self._proven(kind, values, taken.suffix.lower(), known)

    def compose(self, kind: str, fields: Mapping[str, str], suffix: str = "") -> str:
        """The name these neutral values give ("map": "base_color", "role": "lod1"), "" when a wanted one is missing
        or a field cannot hold its value. The role "model" has no word."""
        values: dict[str, str] = {}
        for field, value in fields.items():
            if field == "role" and value == "model":
                continue
            if field not in self.parts.fields or not (right := self.parts.fields[field].spelled(value)):
                return ""
            values[field] = right
        return self._joined(kind, values, suffix)

    def slots_of(self, word: str) -> tuple[tuple[str, str], ...]:
        """(slot, channels) pairs that a map word stands for: one pair, or one a channel for a packed map."""
        return tuple(self.parts.slots.get(word, ()))

    @property
    def slot_names(self) -> tuple[str, ...]:
        """Every slot that some map word stands for, sorted."""
        return tuple(sorted({slot for pairs in self.parts.slots.values() for slot, _ in pairs}))

    def words_of(self, field: str) -> tuple[str, ...]:
        """The neutral values that a listed field takes, sorted; none for a field that is free or not there."""
        known = self.parts.fields.get(field)
        return tuple(sorted({word.meaning for word in known.words})) if known else ()

    def is_master(self, file_name: str) -> bool:
        """Whether a file suffix marks a layered master."""
        return file_name.lower().endswith(self.parts.master_suffixes) if self.parts.master_suffixes else False

    # How a name is taken apart -----------------------------------------------------------------------------------

    def _take_apart(self, name: str, kind: str, known: tuple[str, ...]) -> _Taken:
        order, wanted = self.parts.kinds[kind]
        fields = [self.parts.fields[one] for one in order]
        read, suffix = _split_suffix(name[:_LONGEST_READ]) if kind in _FILE_KINDS else (name[:_LONGEST_READ], "")
        stem = unicodedata.normalize("NFC", read)
        words = split_words(stem, self._letters(fields))
        keys = frozenset(key for one in known if (key := spelling_key(one)))
        layout, moved = self._best_layout(words, fields, wanted, keys)
        problems: list[tuple[str, str]] = []
        texts: list[tuple[str, FieldText]] = []
        for number, (field, start, stop) in enumerate(layout.runs):
            joint = words.joints[start]
            if number == 0 and joint:
                problems.append((field.name, f"{shown(joint)} stands in front of the {field.name}"))
            elif number and joint not in field.before:
                problems.append((field.name, _joint_fault(joint, field)))
            judged = field.judge(words.text(start, stop), words.words[start:stop], words.joints[start + 1 : stop])
            problems.extend((field.name, fault) for fault in judged.faults)
            texts.append((field.name, judged))
        last = layout.runs[-1][0].name if layout.runs else order[-1]
        if words.joints[-1] and words.words:
            problems.append((last, f"{shown(words.joints[-1])} stands behind the {last}"))
        for i in layout.left_over:
            problems.append((last, f"{shown(words.words[i])} fits nowhere in it"))
        if moved:
            problems.append((moved, f"the {moved} stands out of order"))
        problems.extend((field.name, _missing(field, words)) for field in layout.missing)
        if stem != read:
            problems.append((order[0], "letters and their accents are stored apart (not Unicode NFC)"))
        if len(name) > _LONGEST_READ:
            problems.append((order[0], f"the name has {len(name)} characters; only {_LONGEST_READ} were read"))
        if suffix != suffix.lower():
            problems.append(("suffix", f"{shown(suffix)} should be written in lower case: '{suffix.lower()}'"))
        if not problems and not layout.runs:
            problems.append((order[0], "the name holds no word"))
        slip = None if problems else self._slip(order, layout, words, keys)
        if slip is not None:
            problems.append((slip.field, f"{shown(slip.typed)} looks like '{slip.right}' with a slip in it"))
        return _Taken(
            suffix,
            tuple((field, judged.value) for field, judged in texts),
            tuple((field, judged.right) for field, judged in texts) if slip is None else slip.rights(texts),
            tuple(problems),
            () if problems else _doubts(words, layout, keys),
            _written(words, layout, dict(texts), fields),
        )

    def _slip(
        self, order: tuple[str, ...], layout: Layout, words: Words, known: frozenset[tuple[str, ...]]
    ) -> _Slip | None:
        """A listed word that was mistyped at an end of a free field and so was taken for part of it."""
        for number, (free, start, stop) in enumerate(layout.runs):
            if not free.free or stop - start < 2 or folded(words.words[start:stop]) in known:
                continue
            before = order[order.index(layout.runs[number - 1][0].name) + 1 if number else 0 : order.index(free.name)]
            end = order.index(layout.runs[number + 1][0].name) if number + 1 < len(layout.runs) else len(order)
            after = order[order.index(free.name) + 1 : end]
            for name, at, rest in (
                *((name, start, (start + 1, stop)) for name in before),
                *((name, stop - 1, (start, stop - 1)) for name in after),
            ):
                field = self.parts.fields[name]
                listed = [one.right[0] for one in field.words]
                if right := slip_of(words.words[at], listed):
                    left = free.judge(
                        words.text(*rest), words.words[rest[0] : rest[1]], words.joints[rest[0] + 1 : rest[1]]
                    )
                    return _Slip(name, words.words[at], right, free.name, left.right)
        return None

    def _best_layout(
        self,
        words: Words,
        fields: list[NameField],
        wanted: frozenset[str],
        assets: frozenset[tuple[str, ...]],
    ) -> tuple[Layout, str]:
        """The best layout, and the field that had to be moved out of its place for it, or ""."""
        best, moved = lay_out(words, fields, wanted, assets), ""
        present = {field.name for field, _, _ in best.runs}
        folded_words = folded(words.words)
        for field in fields:
            if field.free or field.name in present or not _occurs(field, folded_words):
                continue
            # Words of an optional vocabulary may well be part of an asset. They are taken for a field out of place
            # only where the field is wanted, is a number with a prefix, or leaves a known asset behind.
            others = [one for one in fields if one is not field]
            for place in range(len(fields)):
                order = [*others[:place], field, *others[place:]]
                tried = lay_out(words, order, wanted, assets)
                if field.name not in {one.name for one, _, _ in tried.runs}:
                    continue
                sure = field.name in wanted or field.prefix or tried.cost[2] < 0
                if sure and tried.cost < best.cost:
                    best, moved = tried, field.name
        return best, moved

    def _letters(self, fields: list[NameField]) -> frozenset[str]:
        """Signs that some field allows inside words, although they are neither letters nor digits."""
        signs = {one for field in fields for one in field.characters if not one.isalnum()}
        return frozenset(signs.difference(*(before for field in fields for before in field.before)))

    # How a name is put together ----------------------------------------------------------------------------------

    def _joined(self, kind: str, values: Mapping[str, str], suffix: str) -> str:
        order, wanted = self.parts.kinds[kind]
        text = ""
        for name in order:
            value = values.get(name, "")
            if not value:
                if name in wanted:
                    return ""
                continue
            text += (self.parts.fields[name].before[0] if text else "") + value
        return text + suffix if text else ""

    def _proven(self, kind: str, values: Mapping[str, str], suffix: str, known: tuple[str, ...]) -> str:
        """The joined name if it reads without a problem and is safe on every disk, else ""."""
        if any(value == "" for value in values.values()):
            return ""  # a field whose value nobody can put right; leaving it out would change what the name says
        name = self._joined(kind, values, suffix)
        for _ in range(3):
            if not name:
                return ""
            taken = self._take_apart(name, kind, known)
            if not taken.problems:
                return "" if kind in (*_FILE_KINDS, "folder") and name_faults(name) else name
            # Cutting or spelling out can make new words; writing those right as well mostly settles it.
            name = self._joined(kind, dict(taken.rights), taken.suffix.lower())
        return ""


@dataclass(frozen=True, slots=True)
class _Slip:
    """field: that was meant. typed, right: the word as it stands and as it should. free: the field it was taken for
    part of, whose text without it should be `left`."""

    field: str
    typed: str
    right: str
    free: str
    left: str

    def rights(self, texts: list[tuple[str, FieldText]]) -> tuple[tuple[str, str], ...]:
        """How the fields should be written, the slip put right."""
        others = {name: judged.right for name, judged in texts}
        return tuple({**others, self.free: self.left, self.field: self.right}.items())


@dataclass(frozen=True, slots=True)
class _Taken:
    suffix: str
    fields: tuple[tuple[str, str], ...]
    rights: tuple[tuple[str, str], ...]
    problems: tuple[tuple[str, str], ...]
    doubts: tuple[tuple[str, str], ...]
    written: str


def read_scheme(table: Mapping[str, Any]) -> NameScheme:
    """The scheme of a TOML table. Raises AskedWrongly with the key path of the first mistake; `scheme_faults` has all."""
    parts, faults = read_table(table)
    if faults:
        first = faults[0]
        more = f"; {len(faults) - 1} more mistakes" if len(faults) > 1 else ""
        keys = ".".join(str(key) for key in first.keys)
        raise AskedWrongly(f"names scheme, {keys or 'top'}: {first.what}{more}", help=first.help)
    return NameScheme(parts)


def scheme_faults(table: Mapping[str, Any]) -> tuple[SchemeFault, ...]:
    """Everything wrong with a names scheme, each with its key path, so that its line can be looked up."""
    return read_table(table)[1]


def with_path(reading: NameReading, path: str) -> NameReading:
    """The same reading for another file."""
    return replace(reading, path=path)


def _written(words: Words, layout: Layout, texts: Mapping[str, FieldText], fields: Sequence[NameField]) -> str:
    """See `NameReading.written`. Where words run together, or separators do, one separator stands: that is casing, or a slip."""
    run = next((run for run in layout.runs if run[0].name == "asset"), None)
    if run is None:
        return ""
    asset, start, stop = run
    separators = {sign for field in fields for before in field.before for sign in before}
    ends = separators | {*" -."}
    after = "".join(takewhile(lambda sign: sign not in ends, words.joints[stop]))
    before = "".join(takewhile(lambda sign: sign not in ends, reversed(words.joints[start])))[::-1]
    judged = texts["asset"]
    if not before + after and words.text(start, stop) == judged.right:
        return judged.value
    joints = (joint if set(joint) - separators else asset.word_separator for joint in words.joints[start + 1 : stop])
    inner = "".join(joint + word for joint, word in zip(joints, words.words[start + 1 : stop], strict=True))
    return before + words.words[start] + inner + after


def _occurs(field: NameField, words: tuple[str, ...]) -> bool:
    """Whether a listed or number field recognises any run of these folded words."""
    most = field.longest_match
    return any(
        field.recognises(words[start:stop])
        for start in range(len(words))
        for stop in range(start + 1, min(len(words), start + most) + 1)
    )


def _split_suffix(name: str) -> tuple[str, str]:
    stem, point, suffix = name.rpartition(".")
    if point and stem and 1 <= len(suffix) <= _LONGEST_SUFFIX and suffix.isascii() and suffix.isalnum():
        return stem, point + suffix
    return name, ""


def _joint_fault(joint: str, field: NameField) -> str:
    if not joint:
        return f"'{field.before[0]}' is missing in front of the {field.name}"
    return f"{shown(joint)} stands in front of the {field.name} where '{field.before[0]}' belongs"


def _missing(field: NameField, words: Words) -> str:
    if field.words:
        rights = [word.right[0] for word in field.words if word.right]
        for start in range(max(0, len(words.words) - field.longest_match), len(words.words)):
            typed = words.text(start, len(words.words))
            if like := nearest(typed, rights, _NEARLY):
                return f"{shown(typed)} is no {field.name} word; did you mean '{like}'?"
        first = one_of([f"'{word}'" for word in rights[:3]])
        return f"the {field.name} word is missing, such as {first}"
    if field.digits:
        return f"the {field.name} is missing; it is written like '{field.prefix}{'1':0>{field.digits}}'"
    return f"the {field.name} is missing"


def _form(fields: list[NameField], wanted: frozenset[str]) -> str:
    """`[category_]asset[_variant]_map[.tile]`: what stands in brackets may be left out."""
    text, leading = "", True  # before the first wanted field, joints stand behind the fields that may be left out
    for number, field in enumerate(fields):
        joint = field.before[0]
        if field.name in wanted:
            text += ("" if leading else joint) + field.name
            leading = False
        elif leading:
            following = fields[number + 1].before[0] if number + 1 < len(fields) else ""
            text += f"[{field.name}{following}]"
        else:
            text += f"[{joint}{field.name}]"
    return text


def _doubts(words: Words, layout: Layout, assets: frozenset[tuple[str, ...]]) -> tuple[tuple[str, str], ...]:
    for field, start, stop in layout.runs:
        if field.name != "asset":
            continue
        keys = folded(words.words)
        for shorter in range(stop - 1, start, -1):
            if keys[start:stop] in assets and keys[start:shorter] in assets:
                one, other = words.text(start, stop), words.text(start, shorter)
                return (("asset", f"read as {shown(one)}, the longest known asset; {shown(other)} is known too"),)
    if layout.equal > 1:
        names = ", ".join(field.name for field, _, _ in layout.runs if field.free)
        return ((layout.runs[-1][0].name, f"where the fields {names} part cannot be told from the name alone"),)
    return ()
