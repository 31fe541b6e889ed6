"""Where rule sets lie, and which file a name means."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from tidegate.errors import AskedWrongly, TidegateError
from tidegate.model.nearest import did_you_mean

SUFFIX = ".toml"
NAMES_SCHEME = "names.toml"
"""Lies among rule sets and is none."""


def shipped_folder() -> Path:
    """Folder of the rule sets that come with tidegate: inside an installed wheel, or `rules/` of a checkout."""
    package = Path(__file__).resolve().parents[1]
    inside, beside = package / "_rules", package.parent.parent / "rules"
    for folder in (inside, beside):
        if folder.is_dir():
            return folder
    raise TidegateError(
        "the rule sets that come with tidegate are not there",
        expected=f"{inside} (installed) or {beside} (checkout)",
        help="install tidegate again",
    )


def rule_sets(folders: Sequence[str | Path] = ()) -> tuple[tuple[str, Path], ...]:
    """(name, file) of every rule set, sorted by name. A set in an earlier folder hides one of its name in a later one,
    and all of them hide the shipped ones. Folders that are not there count as empty."""
    found: dict[str, Path] = {}
    for folder in (*folders, shipped_folder()):
        for name, path in _in_folder(Path(folder)).items():
            found.setdefault(name, path)
    return tuple(sorted(found.items()))


def find_rule_set(
    name_or_path: str | Path, folders: Sequence[str | Path] = (), *, passing_over: Path | None = None
) -> Path:
    """The file of a rule set. Raises AskedWrongly with the nearest name.

    A text with a slash, a backslash or `.toml` is a path, any other a name looked up in `folders`, then among the
    shipped sets. passing_over: a file that is not meant, so that a set may start from the one whose name it took.
    """
    if isinstance(name_or_path, Path) or is_path(name_or_path):
        path = Path(name_or_path)
        if path.is_file():
            return path
        raise _no_file(path)
    hidden = passing_over.resolve() if passing_over else None
    for folder in (*folders, shipped_folder()):
        found = _in_folder(Path(folder)).get(name_or_path)
        if found is not None and found.resolve() != hidden:
            return found
    known = [name for name, path in rule_sets(folders) if path.resolve() != hidden]
    raise AskedWrongly(f"there is no rule set named `{name_or_path}`", help=did_you_mean(name_or_path, known))


def _no_file(path: Path) -> AskedWrongly:
    if path.is_dir():
        inside = sorted(_in_folder(path))[:6]
        return AskedWrongly(
            "is a folder, not a rule set file",
            path=str(path),
            help=f"name one in it: {', '.join(f'`{name}{SUFFIX}`' for name in inside)}"
            if inside
            else "name a .toml file",
        )
    if path.exists():
        return AskedWrongly("is no regular file and was not opened", path=str(path), help="name a .toml file")
    near = did_you_mean(path.name, [f"{name}{SUFFIX}" for name in _in_folder(path.parent)])
    return AskedWrongly("there is no such rule set file", path=str(path), help=near or "check the path")


def is_path(text: str) -> bool:
    """Whether a text names a file rather than a rule set."""
    return "/" in text or "\\" in text or text.lower().endswith(SUFFIX)


def _in_folder(folder: Path) -> dict[str, Path]:
    # From the listing and not by trying the name, so that upper and lower case count on every file system.
    if not folder.is_dir():
        return {}
    files = (path for path in sorted(folder.iterdir()) if path.suffix == SUFFIX and path.name != NAMES_SCHEME)
    return {path.stem: path for path in files if path.is_file()}


def _is_set(path: Path) -> bool:
    return path.suffix == SUFFIX and path.name != NAMES_SCHEME and path.is_file()
