"""A names scheme from its TOML file, every mistake with its line."""

from __future__ import annotations

from pathlib import Path

from tidegate.model.name_scheme import NameScheme, read_scheme, scheme_faults

from .faults import Faults
from .rule_folder import NAMES_SCHEME, shipped_folder
from .toml_file import read_toml


def read_names(path: str | Path | None = None) -> NameScheme:
    """The names scheme in a file; without one, the scheme tidegate comes with.

    Raises ConfigurationFault with every mistake, file and line.
    """
    toml = read_toml(path or shipped_folder() / NAMES_SCHEME)
    faults = Faults()
    for fault in scheme_faults(toml.values):
        faults.add(f"names scheme: {fault.what}", toml.path, toml.line_of(*fault.keys), help=fault.help)
    faults.raise_any()
    return read_scheme(toml.values)
