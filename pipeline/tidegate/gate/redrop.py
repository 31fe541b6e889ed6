"""A mended file dropped again: which returned prop it completes.

Two ways back in:
- loose files without a mesh (or with a mesh whose textures are missing), whose names a returned prop has or begins
  with: that prop's folder is taken along, the new files in the place of the old, and the whole is judged anew. What
  was replaced, and the old report, go to the kept tree.
- a whole returned folder, our record still inside: it stands alone, and the record tells what it was (`redrop_story`).

Which prop: the one that has a file of each name, else the longest name that they all begin with, over props returned,
delivered and in hand; where two props fit, none. Names compare without upper and lower case (`same_to_some`). A map in
another format is the same map: `float_normal.tga` takes the place of `float_normal.png`.

Which return of that prop: the newest that has a mesh; one without a mesh only where none has one. Newer is what was claimed
later, told by the ticket, whose id only rises (`ticket_ids`). It is not taken when a newer version of the prop was
delivered, a newer return of it lies there that we may not or cannot take, or the prop is in hand: an old mesh must never
come over a new one. Nor is a map of one variant added to a later return of another. The files are then judged alone, and
the report says what was near and why it was not taken.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import PurePosixPath

from .delivered_names import newest_version
from .faults import shown
from .handed_before import HandedBefore
from .in_hand import PropInHand
from .names import same_to_some
from .returned import ReturnedProp, longest_stem

ALL_OF_IT = "drop its mesh and maps together"


@dataclass(frozen=True)
class Dropped:
    """Loose files that came together. names: theirs. with_mesh: one is a mesh. missing: textures it names that did not come.

    meshes, maps: suffixes, see `GateRules`.
    """  # no slots

    names: tuple[str, ...]
    with_mesh: bool
    missing: tuple[str, ...]
    meshes: tuple[str, ...]
    maps: tuple[str, ...]

    @cached_property
    def keys(self) -> list[str]:
        return [same_to_some(name) for name in self.names]

    @cached_property
    def wanted(self) -> set[str]:
        return {same_to_some(PurePosixPath(name.replace("\\", "/")).name) for name in self.missing}


@dataclass(frozen=True, slots=True)
class Completion:
    """What loose files complete. of: the return that is taken along, None for none. near: what the report says of that.

    places: for each dropped name, where in the prop the file goes: the place of the file it mends, else the top. instead:
    paths of maps that come in another format now, so under another name.
    """

    of: ReturnedProp | None = None
    near: str = ""
    places: dict[str, str] = field(default_factory=dict)
    instead: tuple[str, ...] = ()


def completes(dropped: Dropped, gate: str, before: HandedBefore, in_hand: Sequence[PropInHand] = ()) -> Completion:
    """Which returned prop loose files complete, or why none.

    in_hand: drops that are claimed and not handed over yet. Raises GateFault where what decides cannot be read.
    """
    if dropped.with_mesh and not dropped.missing:
        return Completion()
    returned = before.returned.all()
    before.delivered.look()
    fits = [each for each in returned if each.record.gate == gate and _fits(each, dropped)]
    exact = [each for each in fits if any(each.mended_by(key, dropped.maps) for key in dropped.keys)]
    reach = {each.folder: max(longest_stem(each.stems(dropped.meshes), key) for key in dropped.keys) for each in fits}
    best = exact or [each for each in fits if reach[each.folder] == max(reach.values())]
    at_work = [each for each in in_hand if each.takes(dropped.keys, dropped.maps)]
    if not best:
        return Completion(near=_near_without_return(dropped, before, at_work))
    if len({each.prop for each in best}) > 1:
        both = " and ".join(sorted({shown(each.record.prop) for each in best}))
        return Completion(near=f"it fits the returned props {both} alike: drop it together with the mesh it belongs to")
    if not exact and (longer := _longer_delivered(best[0], reach[best[0].folder], dropped, before)):
        return Completion(near=longer)
    return _newest_of([each for each in fits if each.prop == best[0].prop], returned, dropped, before, at_work)


def _fits(each: ReturnedProp, dropped: Dropped) -> bool:
    stems = each.stems(dropped.meshes)
    if not all(each.mended_by(key, dropped.maps) or longest_stem(stems, key) for key in dropped.keys):
        return False
    return not dropped.with_mesh or bool(dropped.wanted & each.places.keys())


def _newest_of(
    fits: list[ReturnedProp],
    returned: list[ReturnedProp],
    dropped: Dropped,
    before: HandedBefore,
    at_work: list[PropInHand],
) -> Completion:
    """The newest of the returns of one prop, or why it is not taken."""
    whole = [each for each in fits if each.meshes(dropped.meshes)]
    newest = max(whole or fits, key=lambda each: (each.age, each.folder.name))
    if why := _why_not(newest, returned, dropped, before, at_work):
        return Completion(near=why)
    if why := _of_another_variant(newest, fits, dropped):
        return Completion(near=why)
    left = newest.left()
    name = shown(newest.folder.name)
    if left is None:
        return Completion(near=f"the files of the return {name} cannot be looked at just now: {ALL_OF_IT}")
    if not left:
        return Completion(near=f"the return {name} holds none of its files any more: {ALL_OF_IT}")
    if whole and not dropped.with_mesh and not set(left) & set(newest.meshes(dropped.meshes)):
        return Completion(near=f"the return {name} does not hold its mesh any more: {ALL_OF_IT}")
    mended = {each: _mended(newest, each, dropped.maps) for each in dropped.names}
    for found in mended.values():
        if len(found) > 1:
            told = " and ".join(map(shown, found))
            return Completion(
                near=f"the return {name} has {told}: put it in its place there and drop that folder whole"
            )
    places = {each: _place(each, found) for each, found in mended.items()}
    goes = {same_to_some(path) for path in places.values()}
    if len(goes) < len(places):
        return Completion(near="two of the files go to the same place of the return: name them apart")
    instead = tuple(sorted({path for found in mended.values() for path in found if same_to_some(path) not in goes}))
    if not {same_to_some(path) for path in left if path not in instead} - goes:
        return Completion()  # all of it came anew
    bare = not whole and not dropped.with_mesh
    near = f"the return {name}, which it completes, has no mesh either: {ALL_OF_IT}" if bare else ""
    return Completion(newest, near, places, instead)


def _why_not(
    newest: ReturnedProp,
    returned: list[ReturnedProp],
    dropped: Dropped,
    before: HandedBefore,
    at_work: list[PropInHand],
) -> str:
    """What came after a return, so that its files are the old ones; "" for nothing."""
    record, prop, name = newest.record, shown(newest.record.prop), shown(newest.folder.name)
    stems = newest.stems(dropped.meshes)
    if busy := next((each for each in at_work if each.is_of(stems, dropped.keys)), None):
        return _in_hand(busy)
    version = newest_version(before.delivered.at(newest.prop), record.owner)
    if version and version[1].ticket > record.ticket:
        return f"{prop} {version[0].name} was delivered after the return {name}: {ALL_OF_IT}"
    for other in returned:
        same = (other.prop, other.record.owner) == (newest.prop, record.owner)
        if same and other.record.ticket > record.ticket and other.meshes(dropped.meshes):
            return f"{prop} came back again after the return {name}, as {shown(other.folder.name)}: {ALL_OF_IT}"
    if unread := before.returned.without_record(newest.prop, record.ticket):
        return f"{shown(unread)} is newer than the return {name}, and its record cannot be read: {ALL_OF_IT}"
    return ""


def _of_another_variant(newest: ReturnedProp, fits: list[ReturnedProp], dropped: Dropped) -> str:
    """Why a file is not added to the newest return: an older one has it, and the newest only its like; "" for nothing."""
    for key in dropped.keys:
        for each in [] if newest.mended_by(key, dropped.maps) else fits:
            like = (name for name in newest.places if name not in each.places and _differ_inside(name, key))
            if each.mended_by(key, dropped.maps) and (other := next(like, "")):
                of, later = shown(each.folder.name), shown(newest.folder.name)
                return (
                    f"the return {of} has {shown(key)}, and {later}, which came later, has {shown(other)}: {ALL_OF_IT}"
                )
    return ""


def _differ_inside(one: str, other: str) -> bool:
    """Whether two names, up to their first dot, begin and end with the same word: as maps of one slot in two variants do."""
    ends = [re.findall(r"[^\W_]+", name.split(".", 1)[0]) for name in (one, other)]
    return all(ends) and ends[0][0] == ends[1][0] and ends[0][-1] == ends[1][-1]


def _near_without_return(dropped: Dropped, before: HandedBefore, at_work: list[PropInHand]) -> str:
    """No return fits: what of this name is in hand or delivered, for the report; "" for nothing."""
    if at_work:
        return _in_hand(at_work[0])
    keys = dropped.keys
    runs = [{part for part, _, _ in _fields_in(key)} for key in keys]
    for prop, _, _ in _fields_in(keys[0]):
        folders = before.delivered.at(prop) if all(prop in each for each in runs) else []
        if folders and (version := newest_version(folders)):
            what = f"{shown(version[1].prop)} {version[0].name} is delivered and no return of it lies here to be mended"
            return f"{what}: {ALL_OF_IT}"
    return ""


def _longer_delivered(fit: ReturnedProp, reach: int, dropped: Dropped, before: HandedBefore) -> str:
    """Why the files are those of a delivered prop whose name holds more of theirs than the returned prop's does; or ""."""
    for key in dropped.keys:
        for prop, first, end in _fields_in(key):
            longer = end > reach and first <= reach - len(fit.prop) and prop != fit.prop
            folders = before.delivered.at(prop) if longer else []
            if folders and (version := newest_version(folders)):
                what = f"by its name it belongs to {shown(version[1].prop)}, of which {version[0].name} is delivered"
                return f"{what}, and not to the return {shown(fit.folder.name)}: {ALL_OF_IT}"
    return ""


def _fields_in(name: str) -> list[tuple[str, int, int]]:
    """Every run of whole fields of a name, up to its first dot, with where it begins and ends; the longest first."""
    text = name.split(".", 1)[0]
    starts = [at for at in range(len(text)) if text[at].isalnum() and not text[at - 1 : at].isalnum()]
    ends = [at for at in range(1, len(text) + 1) if text[at - 1].isalnum() and not text[at : at + 1].isalnum()]
    runs = [(text[first:end], first, end) for first in starts for end in ends if first < end]
    return sorted(runs, key=lambda run: (run[1] - run[2], run[1]))


def _in_hand(busy: PropInHand) -> str:
    return (
        f"{shown(busy.name)} is still in hand as {busy.ticket}: wait for its verdict, then drop the mended files again"
    )


def _mended(each: ReturnedProp, name: str, maps: tuple[str, ...]) -> list[str]:
    """What a file takes the place of: one path, none for a new file, several where it cannot be told."""
    found = each.mended_by(same_to_some(name), maps)
    alike = [path for path in found if PurePosixPath(path).name == name]
    return alike if len(alike) == 1 else found


def _place(name: str, mended: list[str]) -> str:
    """Where a file goes: onto what it mends; beside that, under its own name, where it is the same map in another format."""
    if not mended:
        return name
    (path,) = mended
    same = same_to_some(PurePosixPath(path).name) == same_to_some(name)
    return path if same else str(PurePosixPath(path).with_name(name))
