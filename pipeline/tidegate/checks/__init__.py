"""The registry of checks is this folder: one check a file, named like the check, bound to `CHECK` in it.

Names come from the listing alone, so showing or proving a rule set imports no more checks than it names. A file whose
name starts with an underscore is no check.
"""

from __future__ import annotations

from functools import cache
from importlib import import_module
from pkgutil import iter_modules
from typing import TYPE_CHECKING

from tidegate.errors import AskedWrongly
from tidegate.model.nearest import did_you_mean

if TYPE_CHECKING:
    from tidegate.model.check import Check


@cache
def names() -> tuple[str, ...]:
    """Names of all checks, sorted, with hyphens."""
    found = (module.name for module in iter_modules(__path__) if not module.name.startswith("_"))
    return tuple(sorted(name.replace("_", "-") for name in found))


def get(name: str) -> Check:
    """The check of that name. Imports its file and no other. Raises AskedWrongly with the nearest name."""
    if name not in names():
        help = did_you_mean(name, names()) or "`tidegate why` lists them all"
        raise AskedWrongly(f"there is no check named `{name}`", help=help)
    check: Check = import_module(f"{__name__}.{name.replace('-', '_')}").CHECK
    return check
