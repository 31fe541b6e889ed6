"""Where a gate keeps things in its own work folder and inside its trees.

work/
  lock                    held while a daemon serves the gate
  known-trees             inbox and trees that were made, one a line; a tree that then lacks its staging folder is not mounted
  tickets/<ticket>.json   a drop is being taken or was taken
  claimed/<ticket>/       drop/<drop name>/...   archive/<file>   superseded/...
  unpacked/<ticket>/      copies out of an archive; always removable
  handing/<ticket>.json   everything is staged; only moves and removals are left
  ledger.sqlite3
<tree>/.tidegate-staging/<gate>/<ticket>-<number>/    built and proven here, then moved onto its name
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from tidegate.errors import TransientFault

from . import durable
from .faults import NameTaken, disk_step, shown
from .settings import GatePaths

STAGING, TAKEN = ".tidegate-staging", ".tidegate-taken"


@dataclass(frozen=True)
class Layout:
    """The paths of one gate."""  # no slots: those that every drop asks for many times are made once

    paths: GatePaths

    @cached_property
    def tickets(self) -> Path:
        return self.paths.work / "tickets"

    @cached_property
    def claimed(self) -> Path:
        return self.paths.work / "claimed"

    @cached_property
    def unpacked(self) -> Path:
        return self.paths.work / "unpacked"

    @cached_property
    def handing(self) -> Path:
        return self.paths.work / "handing"

    @property
    def lock(self) -> Path:
        return self.paths.work / "lock"

    @property
    def known_trees(self) -> Path:
        return self.paths.work / "known-trees"

    @property
    def ledger(self) -> Path:
        return self.paths.work / "ledger.sqlite3"

    def ticket_file(self, ticket: str) -> Path:
        return self.tickets / f"{ticket}.json"

    def handing_file(self, ticket: str) -> Path:
        return self.handing / f"{ticket}.json"

    def claimed_folder(self, ticket: str) -> Path:
        return self.claimed / ticket

    def staging(self, tree: Path) -> Path:
        return tree / STAGING / self.paths.name

    def taken(self, ticket: str) -> Path:
        return self.paths.returned / TAKEN / self.paths.name / ticket

    def prepare(self) -> None:
        """Make what is missing. Inbox and trees are made once; later a missing one means that it is not mounted.

        Raises TransientFault for a tree that was there before, PermanentFault where folders cannot be made.
        """
        for folder in (self.paths.work, self.tickets, self.claimed, self.unpacked, self.handing):
            durable.make_folders(folder)
        wanted = [shown(folder) for folder in (self.paths.inbox, *self.paths.trees)]
        known = self._known()
        for tree in self.paths.trees:
            if shown(tree) in known and not (tree / STAGING).is_dir():
                self.require(tree)
        if known == wanted:
            for tree in self.paths.trees:
                if not self.staging(
                    tree
                ).is_dir():  # of a gate that was renamed; never the tree itself, it may just have gone
                    durable.make_folder(self.staging(tree))
                    durable.sync_folder(tree / STAGING)
            return
        if shown(self.paths.inbox) not in known:
            durable.make_folders(self.paths.inbox)
        for tree in self.paths.trees:
            durable.make_folders(self.staging(tree))
        if known:  # it moved; should this be cut short, the next start takes all for new
            durable.remove_file(self.known_trees)
        try:
            durable.write_file(self.known_trees, "".join(f"{line}\n" for line in wanted).encode())
        except NameTaken:
            return  # another process prepared it at the same moment

    def _known(self) -> list[str]:
        with disk_step("could not read which trees were made", self.known_trees):
            try:
                return self.known_trees.read_text("utf-8", "replace").splitlines()  # spoilt lines are no tree of ours
            except FileNotFoundError:
                return []

    def require(self, tree: Path) -> None:
        """Raises TransientFault when a tree that this gate delivered to is not there, such as an empty mount point."""
        if not self.staging(tree).is_dir():
            raise TransientFault(
                "a tree of the gate is gone",
                path=shown(tree),
                expected=f"the folder {STAGING}/{self.paths.name} in it",
                came="no such folder",
                done="nothing was written there; drops wait",
                help=f"mount it again; if it was emptied on purpose, remove {shown(self.known_trees)} and start anew",
            )
