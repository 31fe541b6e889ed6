"""Material libraries (.mtl) named by an OBJ file, and every file they name in turn.

Source: "Material Library File (.mtl)" of the same manual as the OBJ text: libraries are searched in the order they are
named, so the first definition of a name holds; statements of a material may stand in any order.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from tidegate.errors import UnreadableFile
from tidegate.model.mesh import MapSlot, Material
from tidegate.model.reference import FileReference, ReadNote

from .mtl_map import SLOTS, parse_map, unquoted
from .obj_text import decode, prepare
from .references import folder_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from .limits import ReadLimits
    from .mtl_map import MapStatement
    from .references import DropFolder

_COMMENT = re.compile(r"\s#(?:\s.*)?$")
_NAME_END = re.compile(r"\.mtl$", re.IGNORECASE)
_MOST_WORDS = 64  # words of one `mtllib`; joining them to names takes the square of it
# Statements of colours and numbers, which no check looks at.
_PLAIN = frozenset(
    ("ka", "kd", "ks", "ke", "kt", "km", "ns", "ni", "d", "tr", "tf", "illum", "sharpness", "map_aat")
) | frozenset(("pr", "pm", "ps", "pc", "pcr", "aniso", "anisor"))  # later additions, from memory
_THERE = ("present", "wrong-case")


@dataclass(slots=True)
class Libraries:
    """All materials of all libraries, and every file named: libraries and pictures, each once, in order."""

    materials: tuple[Material, ...] = ()
    references: tuple[FileReference, ...] = ()
    notes: list[ReadNote] = field(default_factory=list)


def read_libraries(
    folder: DropFolder, obj_path: str, statements: Sequence[tuple[bytes, int]], limits: ReadLimits
) -> Libraries:
    """Reads the libraries that the `mtllib` statements of an OBJ file name.

    statements: text behind each keyword, with its line. A library that is missing or cannot be read is told in its
    reference and a note; nothing is raised for it.
    """
    reader = _Reader(folder, limits)
    for rest, line in statements:
        reader.name_libraries(rest, line, folder_of(obj_path))
    return Libraries(
        tuple(material.done() for material in reader.materials.values()), tuple(reader.references), reader.notes
    )


@dataclass(slots=True)
class _Draft:
    """A material while its statements are read."""

    name: str
    slots: list[MapSlot] = field(default_factory=list)
    dissolve: float = 1.0

    def done(self) -> Material:
        files = {slot.reference for slot in self.slots if slot.slot == "base_color"}
        # A cut-out mask that is the base colour's own file can only be meant for its alpha (common practice, no source).
        slots = [
            replace(slot, channels="a")
            if slot.slot == "opacity" and slot.reference in files and "imfchan" not in dict(slot.options)
            else slot
            for slot in self.slots
        ]
        clear = self.dissolve < 1.0 or any(slot.slot == "opacity" for slot in slots)
        return Material(self.name, tuple(slots), alpha_mode="blend" if clear else "opaque")


@dataclass(slots=True)
class _Reader:
    folder: DropFolder
    limits: ReadLimits
    materials: dict[str, _Draft] = field(default_factory=dict)
    references: list[FileReference] = field(default_factory=list)
    notes: list[ReadNote] = field(default_factory=list)
    _numbers: dict[tuple[str, str, str], int] = field(default_factory=dict)
    _read: set[str] = field(default_factory=set)

    def name_libraries(self, rest: bytes, line: int, base: str) -> None:
        """One `mtllib` statement. Names are split at blanks only where that gives names of files."""
        text, _ = decode(rest)
        place = f"line {line}"
        if not text:
            self._note("material-library-not-named", "warning", "`mtllib` names no file", place)
            return
        for name in self._split(text, base):
            reference = self.references[self._refer(name, "material library", base)]
            if reference.status == "missing":
                self._note(
                    "material-library-missing",
                    "error",
                    f"material library `{name}` is not there",
                    place,
                    "hand over the .mtl file that the export wrote beside the .obj",
                )
            if reference.path and reference.path not in self._read:
                self._read.add(reference.path)
                self._read_library(reference)

    def _split(self, text: str, base: str) -> list[str]:
        """Names in the text behind `mtllib`: the longest runs of words that name a file there, else up to ".mtl"."""
        if self._find(text, "material library", base).status in _THERE:
            return [text]
        text = _COMMENT.sub("", text)
        words = list(re.finditer(r"\S+", text))
        if len(words) > _MOST_WORDS:
            return [word[0] for word in words]
        names, at = [], 0
        while at < len(words):
            end = next(
                (
                    last
                    for last in range(len(words) - 1, at - 1, -1)
                    if self._find(text[words[at].start() : words[last].end()], "material library", base).status
                    in _THERE
                ),
                None,
            )
            if end is None:
                end = next(
                    (last for last in range(at, len(words)) if _NAME_END.search(unquoted(words[last][0]))),
                    len(words) - 1,
                )
            names.append(text[words[at].start() : words[end].end()])
            at = end + 1
        return names

    def _find(self, name: str, kind: str, base: str) -> FileReference:
        found = self.folder.resolve(unquoted(name), base=base, kind=kind, percent_encoded=False)
        return found if found.text == name else replace(found, text=name)

    def _refer(self, name: str, kind: str, base: str) -> int:
        """Number of the reference with this text, seen from this folder."""
        key = (name, kind, base)
        if key not in self._numbers:
            self._numbers[key] = len(self.references)
            self.references.append(self._find(name, kind, base))
        return self._numbers[key]

    def _note(self, code: str, level: str, message: str, place: str, help: str = "") -> None:
        self.notes.append(ReadNote(code, level, message, help, place))

    def _read_library(self, reference: FileReference) -> None:
        path = reference.path
        try:
            source = prepare(self.folder.read_bytes(path, self.limits.file_bytes), path)
        except UnreadableFile as fault:
            came = f" ({fault.came})" if fault.came else ""
            self._note("material-library-unreadable", "error", f"{path}: {fault.what}{came}", path, fault.help)
            return
        # A path inside a library folder is no path of the drop; what such a file names is looked for by its name.
        base = "" if reference.library else folder_of(path)
        draft: _Draft | None = None
        strange: dict[str, int] = {}
        odd_encoding = ""
        before_first: int | None = None
        for line, raw in source.numbered_lines():
            text, encoding = decode(raw.strip())
            if not text or text.startswith("#"):
                continue
            if encoding != "utf-8":
                odd_encoding = odd_encoding or encoding
            keyword, *behind = text.split(None, 1)
            rest = behind[0].strip() if behind else ""
            word, place = keyword.lower(), f"{path} line {line}"
            if word == "newmtl":
                draft = self._new(_COMMENT.sub("", rest).strip(), place)
            elif draft is None:
                before_first = before_first or line
                if _names_a_map(word) and (name := self._name_of_map(parse_map(rest), base)):
                    self._refer(name, "image", base)  # of no material, but a file the prop needs all the same
            elif _names_a_map(word):
                self._map(draft, keyword, rest, base, place)
            elif word == "d":
                draft.dissolve = _dissolve(rest)
            elif word not in _PLAIN:
                strange.setdefault(keyword[:24], line)
        if before_first:
            self._note(
                "statement-before-newmtl",
                "warning",
                f"{path}: statements before the first `newmtl` belong to no material",
                f"{path} line {before_first}",
            )
        for keyword, line in list(strange.items())[:20]:
            message = f"{path}: statement `{keyword}` at line {line} is not known and was passed over"
            self._note("unknown-material-statement", "note", message, f"{path} line {line}")
        if odd_encoding:
            message = f"{path}: names are not UTF-8 and were read as {odd_encoding}"
            self._note("names-not-utf-8", "note", message, path, "save the file as UTF-8, or use plain ASCII names")

    def _new(self, name: str, place: str) -> _Draft:
        if not name:
            self._note("material-without-name", "warning", "`newmtl` states no name", place)
        if name in self.materials:
            self._note(
                "material-defined-twice",
                "warning",
                f"material `{name}` is defined again; the first definition holds",
                place,
                "give each material a name of its own",
            )
            return _Draft(name)  # read, so that its files are accounted for, and then left
        if len(self.materials) >= self.limits.materials:
            self._note("too-many-materials", "error", f"more than {self.limits.materials} materials", place)
            return _Draft(name)
        draft = self.materials[name] = _Draft(name)
        return draft

    def _map(self, draft: _Draft, keyword: str, rest: str, base: str, place: str) -> None:
        statement = parse_map(rest)
        name = self._name_of_map(statement, base)
        for option in statement.incomplete:
            self._note(
                "map-option-incomplete", "warning", f"`{keyword}`: option {option} has no argument it can take", place
            )
        slot, usual = SLOTS.get(keyword.lower(), (keyword.lower(), "rgb"))
        if keyword.lower() not in SLOTS:
            self._note("unknown-map-statement", "note", f"`{keyword}` is not known; its file is kept as a map", place)
        if not name:
            self._note("map-without-file", "error", f"`{keyword}` of material `{draft.name}` names no file", place)
        draft.slots.append(
            MapSlot(
                slot=slot,
                channels=statement.channels(usual),
                stated_as=keyword,
                reference=self._refer(name, "image", base) if name else -1,
                transform=statement.transform(),
                wrap=statement.wrap(),
                options=statement.options,
            )
        )

    def _name_of_map(self, statement: MapStatement, base: str) -> str:
        """The file's name; a comment behind it is cut off, unless a file of the whole name is there."""
        name = statement.file
        if _COMMENT.search(name) and self._find(name, "image", base).status not in _THERE:
            return _COMMENT.sub("", name).strip()
        return name


def _names_a_map(word: str) -> bool:
    return word in SLOTS or (word.startswith("map_") and word not in _PLAIN)


def _dissolve(rest: str) -> float:
    """`d 0.5`, or `d -halo 0.5`. Not a number counts as opaque."""
    words = rest.split()
    try:
        return float(words[-1]) if words else 1.0
    except ValueError:
        return 1.0
