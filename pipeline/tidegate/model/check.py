"""What a check file declares: the limits it takes, the facts it needs, and its explanation."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, get_args

if TYPE_CHECKING:
    from .facts import Facts
    from .finding import Finding

Group = Literal[
    "files and names",
    "order, size and axes",
    "nodes and materials",
    "mesh",
    "normals and tangents",
    "levels of detail and collision",
    "UV layout",
    "maps and masters",
    "what the maps show",
]
"""What a check looks at, in the order in which lists of checks are shown."""

GROUPS: tuple[Group, ...] = get_args(Group)


@dataclass(frozen=True, slots=True)
class Limit:
    """One adjustable limit of a check.

    name: lower case with underscores. kind: "number", "integer", "text", "boolean", "texts" (list of text),
    "numbers" (list), "range" ([low, high]), "choice" (one of `choices`), "table" (text -> number or text).
    default: used when a rule does not set it. unit: "texels", "px/m", "degrees", "share", "" ...
    low, high: inclusive bounds of a number, None open. explanation: one sentence, with `common practice, no source`
    where it is that. A `None` default means the limit is off until a rule sets it.
    """

    name: str
    kind: str
    default: Any
    unit: str = ""
    explanation: str = ""
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Check:
    """The declaration that every file in checks/ binds to the name CHECK.

    name: the bad thing, in plain words, lower case with hyphens; the file has the same name with underscores.
    group: what it looks at, one of `GROUPS`, under which lists of checks show it.
    needs: groups of facts to load and measure, from `facts.NEEDS`. stage: place in the fix-first order, lower is earlier:
    10 cannot be read, 20 files and names, 30 units and size, 40 mesh, 50 UV layers, 60 layout, 70 map files, 80 what was painted.
    looks_at, why, put_right, blind_spots: the explanation `tidegate why` prints.
    scope: fields of `Scope` this check honours; a rule that names another one is refused when it is read.
    """

    name: str
    group: Group
    stage: int
    needs: frozenset[str]
    looks_at: str
    why: str
    put_right: str
    blind_spots: str
    limits: tuple[Limit, ...] = ()
    level: str = "error"
    scope: frozenset[str] = frozenset()
    run: Callable[[Facts, Mapping[str, Any], Scope], Iterable[Finding]] = lambda facts, limits, scope: ()


@dataclass(frozen=True, slots=True)
class Scope:
    """The part of the prop a rule is for: name patterns (`*` and `?`) a field, () means all of them. A pattern behind `!` takes
    out what it fits, so patterns of that kind alone mean all but those.

    A check asks `scope.takes(role=..., material=...)` with every field it declares in `Check.scope` before it reports on a
    place; a field that has no name there is passed as None and then fits only an empty pattern list.
    """

    role: tuple[str, ...] = ()
    material: tuple[str, ...] = ()
    mesh: tuple[str, ...] = ()
    node: tuple[str, ...] = ()
    uv_layer: tuple[str, ...] = ()
    slot: tuple[str, ...] = ()
    tile: tuple[str, ...] = ()
    variant: tuple[str, ...] = ()

    def takes(self, **names: object) -> bool:
        """Whether a place with these names is meant. Patterns compare exactly as to upper and lower case."""
        from fnmatch import fnmatchcase

        for key in self.__slots__:
            patterns: tuple[str, ...] = getattr(self, key)
            if not patterns or key not in names:
                continue
            value = names[key]
            out = [pattern[1:] for pattern in patterns if pattern.startswith("!")]
            if value is not None and any(fnmatchcase(str(value), pattern) for pattern in out):
                return False
            wanted = [pattern for pattern in patterns if not pattern.startswith("!")]
            if wanted and (value is None or not any(fnmatchcase(str(value), pattern) for pattern in wanted)):
                return False
        return True

    def names_role(self) -> bool:
        """Whether roles are asked for by name, and not taken out alone."""
        return any(not pattern.startswith("!") for pattern in self.role)
