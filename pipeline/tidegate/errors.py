"""Every exception tidegate raises on purpose.

    TidegateError
    ├── AskedWrongly            the command, call or configuration is wrong      (exit code 2)
    │   └── ConfigurationFault  a TOML or CSV file of ours is wrong, with the line
    ├── UnreadableFile          a file of a drop cannot be read as what it claims to be
    │   ├── NoReader            its format has no reader here
    │   └── LimitExceeded       it asks for more than the limits allow
    └── GateFault               the gate could not finish a step on the disk
        ├── TransientFault      may heal by itself: full disk, vanished share; retried
        └── PermanentFault      will not heal: goes aside with the reason

Each carries the six things a reader needs: what happened, to which file, what was expected, what came,
what was done with it, and what to do next.
"""

from __future__ import annotations


class TidegateError(Exception):
    """Root of the tree. Never raised itself.

    what: one lower-case sentence without a full stop. path: the file it happened to, or "".
    expected, came, done, help: further sentences, each may be "".
    """

    def __init__(
        self, what: str, *, path: str = "", expected: str = "", came: str = "", done: str = "", help: str = ""
    ) -> None:
        self.what = what
        self.path = path
        self.expected = expected
        self.came = came
        self.done = done
        self.help = help
        super().__init__(what)

    def __reduce__(self) -> tuple[object, ...]:
        # Keyword-only arguments do not survive pickling on their own; workers send these to the parent.
        return (_rebuild, (type(self), self.args, self.__dict__))

    def __str__(self) -> str:
        path = self.path.replace("\n", "\\n").replace("\r", "\\r")  # a file name may hold them, and would forge a line
        head = f"{path}: {self.what}" if path else self.what
        lines = [head]
        if self.expected:
            lines.append(f"  expected: {self.expected}")
        if self.came:
            lines.append(f"  came: {self.came}")
        if self.done:
            lines.append(f"  done: {self.done}")
        if self.help:
            lines.append(f"  help: {self.help}")
        return "\n".join(lines)


def _rebuild(kind: type[TidegateError], args: tuple[str, ...], state: dict[str, object]) -> TidegateError:
    error = kind(*args)
    error.__dict__.update(state)
    return error


class AskedWrongly(TidegateError):
    """The user asked for something that does not exist or does not fit together."""


class ConfigurationFault(AskedWrongly):
    """A configuration file, rule set or order list is wrong. `line` is 1-based, 0 when no line applies.

    others: further faults found in the same reading, so that one run shows all of them.
    """

    def __init__(self, what: str, *, line: int = 0, others: tuple[ConfigurationFault, ...] = (), **more: str) -> None:
        super().__init__(what, **more)
        self.line = line
        self.others = others

    def __str__(self) -> str:
        text = super().__str__()
        if self.path and self.line:
            text = text.replace(f"{self.path}: ", f"{self.path}:{self.line}: ", 1)
        return "\n".join((text, *(str(other) for other in self.others)))


class UnreadableFile(TidegateError):
    """A file of a drop cannot be read as what it claims to be. Becomes the finding `unreadable-file`."""


class NoReader(UnreadableFile):
    """The format is known, but no reader for it is here."""


class LimitExceeded(UnreadableFile):
    """The file asks for more memory, nodes, pixels or depth than the limits allow."""


class GateFault(TidegateError):
    """A step on the disk could not be finished. Nothing was lost; the drop stays where it was."""


class TransientFault(GateFault):
    """May heal by itself, such as a full disk or a share that went away. The gate tries again later."""


class PermanentFault(GateFault):
    """Will not heal by waiting. The drop goes aside with the reason."""
