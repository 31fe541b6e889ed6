"""A map or master that is there and is not a whole picture."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tidegate.model.check import Check, Scope
from tidegate.model.facts import Facts
from tidegate.model.finding import Finding, Place


def run(facts: Facts, limits: Mapping[str, Any], scope: Scope) -> Iterator[Finding]:
    prop = facts.prop
    pictures = [(m.path, m.header, m.slots) for m in prop.maps] + [(m.path, m.header, ()) for m in prop.masters]
    for path, header, slots in pictures:
        if not header.problem:
            continue
        yield Finding(
            check="unreadable-map",
            level="",
            message=f"{path} is no readable picture: {header.problem_detail or header.problem}",
            place=Place(map=path, slot=slots[0] if slots else ""),
            measured=header.problem,
            wanted="a whole picture",
            help=_HELP.get(header.problem, "save the map again and drop it once more"),
        )
    slots_of = {texture.path: texture.slots for texture in prop.maps}
    for one in facts.undecoded:
        slots = slots_of.get(one.path, ())
        cannot_tell = one.kind == "no reader"
        yield Finding(
            check="unreadable-map",
            level="note" if cannot_tell else "",
            message=f"{'cannot tell what is painted on ' if cannot_tell else ''}{one.path}: {one.what}",
            place=Place(map=one.path, slot=slots[0] if slots else ""),
            measured=one.kind,
            wanted="pixels that can be read",
            help=one.help or "save the map again and drop it once more",
            certain=not cannot_tell,
        )


_HELP = {
    "zero-byte": "the save was cut off before it began; save the map again",
    "truncated": "the save or the copy was cut off; save the map again and wait for the copy to end",
    "pointer-text": "fetch the real file from the large-file store first: what lies here is the text that points to it",
    "not-an-image": "save the map in a picture format; what lies here is something else under a picture's name",
}


CHECK = Check(
    name="unreadable-map",
    group="maps and masters",
    stage=20,
    needs=frozenset({"files", "headers"}),
    looks_at="whether every map and master is a whole picture: not empty, cut off, damaged, or another kind of file; where a "
    "rule needs pixels, whether they can be decoded",
    why="a cut-off map opens with a grey band in one program and not at all in the next",
    put_right="save the map again",
    blind_spots="damage inside the picture data that leaves the structure of the file whole, unless a rule reads the pixels",
    run=run,
)
