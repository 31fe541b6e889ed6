"""Collects every fault of a file, so that one reading shows all of them and not the first alone."""

from __future__ import annotations

from tidegate.errors import ConfigurationFault


class Faults:
    """Faults found so far, in any order."""

    def __init__(self) -> None:
        self._found: list[ConfigurationFault] = []

    def add(self, what: str, path: str, line: int, *, expected: str = "", came: str = "", help: str = "") -> None:
        """Notes one fault. Arguments as for ConfigurationFault."""
        self._found.append(ConfigurationFault(what, path=path, line=line, expected=expected, came=came, help=help))

    def take(self, fault: ConfigurationFault) -> None:
        """Notes a fault, and those that came with it."""
        self._found += [fault, *fault.others]

    def raise_any(self) -> None:
        """Raises the first fault with the others in it, file by file, line by line. Returns when there is none."""
        if not self._found:
            return
        files = list(dict.fromkeys(fault.path for fault in self._found))
        first, *others = sorted(self._found, key=lambda fault: (files.index(fault.path), fault.line))
        raise ConfigurationFault(
            first.what,
            path=first.path,
            line=first.line,
            expected=first.expected,
            came=first.came,
            done=first.done,
            help=first.help,
            others=tuple(others),
        )
