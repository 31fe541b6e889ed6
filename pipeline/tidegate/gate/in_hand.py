"""Props that are claimed and not handed over yet, as far as their tickets tell: by the names of their files."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath

from .names import same_to_some
from .returned import longest_stem
from .ticket import ARCHIVE, DROP, Ticket


@dataclass(frozen=True, slots=True)
class PropInHand:
    """name: of the drop. keys: bare names of its files, stems: what their names begin with, both as `same_to_some`.

    A drop without a mesh has no stems; of an archive only its own name is known.
    """

    ticket: str
    name: str
    keys: frozenset[str]
    stems: frozenset[str]

    def takes(self, keys: Sequence[str], maps: tuple[str, ...]) -> bool:
        """Whether files of these names may be meant for it. maps: suffixes of one map in other formats, see `GateRules`."""
        own = {key.rpartition(".")[0] for key in self.keys if key.endswith(maps)}
        return bool(self.stems) and all(
            key in self.keys
            or (key.endswith(maps) and key.rpartition(".")[0] in own)
            or longest_stem(self.stems, key) > 0
            for key in keys
        )

    def is_of(self, stems: frozenset[str], keys: Sequence[str]) -> bool:
        """Whether it is the prop of these stems, or one that the names tell more of. To be asked when it takes them."""
        longest = max(longest_stem(stems, key) for key in keys)
        return bool(self.stems & stems) or max(longest_stem(self.stems, key) for key in keys) > longest


def props_in_hand(tickets: Iterable[Ticket], meshes: tuple[str, ...]) -> list[PropInHand]:
    """One for each ticket, oldest first. meshes: suffixes."""
    found = []
    for taken in sorted(tickets, key=lambda each: each.ticket):
        names = [PurePosixPath(move.to).name for move in taken.moves if move.to.startswith(f"{DROP}/")]
        named = [name for name in names if name.lower().endswith(meshes)]
        if taken.kind == ARCHIVE:
            named.append(taken.drop)
        stems = frozenset(same_to_some(name.split(".", 1)[0]) for name in named) - {""}
        found.append(PropInHand(taken.ticket, taken.drop, frozenset(map(same_to_some, names)), stems))
    return found
