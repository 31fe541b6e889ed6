"""Which triangles and islands a finding was told of, by the runs of triangles that it carries."""

from __future__ import annotations

from collections.abc import Iterable

from tidegate.model.facts import Facts
from tidegate.model.finding import Finding


class ToldOf:
    """Of the findings of one prop. Islands are looked up once a finding."""

    def __init__(self, facts: Facts | None) -> None:
        self._parts = () if facts is None else facts.parts
        self._islands: dict[int, frozenset[int]] = {}
        self._held: list[Finding] = []  # so that no other finding gets the id of one that is gone

    def islands(self, finding: Finding) -> frozenset[int]:
        """Numbers of the islands, on every UV layer, that have a triangle among the finding's."""
        if id(finding) not in self._islands:
            import numpy as np

            rows: set[int] = set()
            for index, runs in _by_part(finding.shown.faces).items():
                for island in self._parts[index].island_of.values():
                    for first, stop in runs:
                        rows.update(np.unique(island[first:stop]).tolist())
            self._islands[id(finding)] = frozenset(row + 1 for row in rows if row >= 0)
            self._held.append(finding)
        return self._islands[id(finding)]

    def whole_islands(self, finding: Finding, numbers: Iterable[int]) -> bool:
        """Whether every triangle of the islands with these numbers, of which there are some, is among the finding's."""
        import numpy as np

        wanted = np.unique(np.array(list(numbers), np.int64)) - 1
        within = _by_part(finding.shown.faces)
        seen: set[int] = set()
        for index, part in enumerate(self._parts):
            for island in part.island_of.values():
                found = np.isin(island, wanted)
                seen.update(np.unique(island[found]).tolist())
                for first, stop in within.get(index, ()):
                    found[first:stop] = False
                if found.any():
                    return False
        return bool(len(wanted)) and seen.issuperset(wanted.tolist())

    def all_faces(self, cause: Finding, other: Finding) -> bool:
        """Whether the other finding was told of some triangles, each of which is among the cause's."""
        within, wanted = _by_part(cause.shown.faces), _by_part(other.shown.faces)
        return bool(wanted) and all(_covered(runs, within.get(index, [])) for index, runs in wanted.items())


def _by_part(faces: Iterable[tuple[int, int, int]]) -> dict[int, list[tuple[int, int]]]:
    """(first, stop) of the runs of each part, ascending."""
    found: dict[int, list[tuple[int, int]]] = {}
    for part, first, stop in sorted(faces):
        found.setdefault(part, []).append((first, stop))
    return found


def _covered(runs: list[tuple[int, int]], by: list[tuple[int, int]]) -> bool:
    """Whether every run lies within one of those it is to be covered by, none of which touch."""
    at = 0
    for first, stop in runs:
        while at < len(by) and by[at][1] < stop:
            at += 1
        if at == len(by) or by[at][0] > first:
            return False
    return True
