"""From the configuration to gates at work."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from tidegate.cli.options import find_configuration
from tidegate.errors import AskedWrongly

if TYPE_CHECKING:
    from tidegate.daemon.setup import Everything, GateSetup
    from tidegate.errors import GateFault
    from tidegate.gate.left_claims import LeftClaims
    from tidegate.gate.settings import GatePaths, GateRules, Questions
    from tidegate.model.name_scheme import NameScheme
    from tidegate.model.settings import Configuration, Gate


def configuration_file(config: str | None) -> str:
    """The configuration file, which the gate commands cannot do without."""
    path = find_configuration(config)
    if path is None:
        raise AskedWrongly(
            "there is no tidegate.toml here or in a folder above",
            help="`tidegate new DIR` makes one to start from; --config FILE names one elsewhere",
        )
    return path


def chosen_gates(configuration: Configuration, names: Sequence[str], path: str) -> list[Gate]:
    """The gates named, or all of them."""
    from tidegate.model.nearest import did_you_mean

    if not configuration.gates:
        raise AskedWrongly("has no gate", path=path, expected="one [[gate]] at least")
    known = {gate.name: gate for gate in configuration.gates}
    for name in names:
        if name not in known:
            raise AskedWrongly(f"there is no gate named `{name}`", path=path, help=did_you_mean(name, list(known)))
    return [known[name] for name in names] if names else list(configuration.gates)


def paths_of(gate: Gate) -> GatePaths:
    """Where a gate's folders lie."""
    from tidegate.gate.settings import GatePaths

    return GatePaths(
        name=gate.name,
        inbox=gate.inbox,
        work=gate.work,
        delivery=gate.delivery,
        returned=gate.returned,
        aside=gate.aside,
        kept=gate.kept,
        owner=gate.owner,
    )


def rules_of(configuration: Configuration, gate: Gate) -> GateRules:
    """How a gate waits."""
    from tidegate.gate.archive_limits import ArchiveLimits
    from tidegate.gate.settings import GateRules
    from tidegate.load.listing import MESH_SUFFIXES

    studio, daemon, archives = configuration.studio, configuration.daemon, gate.archives
    return GateRules(
        quiet=gate.quiet_seconds,
        wait=gate.wait_for_textures_seconds,
        stalled=gate.stalled_seconds,
        ready_file=gate.ready_file,
        partial=tuple(studio.partial_names),
        litter=tuple(studio.litter_names),
        meshes=MESH_SUFFIXES,
        first_pause=daemon.first_pause_seconds,
        longest_pause=daemon.longest_pause_seconds,
        archive_limits=ArchiveLimits(
            bytes=archives.unpacked_mb << 20,
            ratio=archives.ratio,
            files=archives.files,
            depth=archives.depth,
        ),
    )


def questions(inbox: Path, scheme: NameScheme) -> Questions:
    """What the gate asks about contents. Loose files of the inbox are grouped by what meshes name and by their names."""
    from tidegate.gate.settings import Questions
    from tidegate.load.complete import complete
    from tidegate.load.loose_files import group_loose
    from tidegate.load.named_files import named_files

    def group(names: Sequence[str]) -> Sequence[Sequence[str]]:
        return group_loose(names, inbox, scheme)

    return Questions(complete=complete, wanted=named_files, group=group)


def setups_of(configuration: Configuration, gates: Sequence[Gate]) -> list[GateSetup]:
    """Everything the daemon needs of these gates. Proves every rule set they may call for."""
    from tidegate.cli.terms import gate_terms, with_rule_sets
    from tidegate.daemon.setup import DropLimits, GateSetup
    from tidegate.passage import TakeThrough

    setups = []
    for gate in gates:
        terms = with_rule_sets(gate_terms(configuration, gate))
        rules = rules_of(configuration, gate)
        rules = replace(rules, maps=tuple(each for each in rules.maps if not terms.scheme.is_master(each)))
        setups.append(
            GateSetup(
                paths=paths_of(gate),
                examine=TakeThrough(terms),
                rules=rules,
                questions=questions(gate.inbox, terms.scheme),
                native_events={"auto": None, "native": True, "poll": False}[gate.watch],
                limits=DropLimits(
                    memory=gate.limits.memory_mb << 20,
                    seconds=gate.limits.seconds,
                    file_bytes=gate.limits.file_mb << 20,
                ),
            )
        )
    return setups


def everything(configuration: Configuration, gates: Sequence[Gate]) -> Everything:
    """All that the daemon needs, for these gates."""
    from tidegate.daemon.setup import Everything, LoopRules, WorkerRules

    return Everything(
        gates=tuple(setups_of(configuration, gates)),
        rules=LoopRules(scan=min(gate.scan_seconds for gate in gates), grace=configuration.daemon.grace_seconds),
        workers=WorkerRules(count=configuration.daemon.workers or os.cpu_count() or 2),
    )


def left_by_gate(
    configuration: Configuration, names: Iterable[str]
) -> Iterator[tuple[str, list[LeftClaims], GateFault | None]]:
    """(gate, claims where no gate has its work folder, the fault where its delivery tree cannot be asked), each claim once."""
    from tidegate.errors import GateFault
    from tidegate.gate.left_claims import left_claims

    deliveries = {gate.name: gate.delivery for gate in configuration.gates}
    works = {gate.work for gate in configuration.gates}
    told: set[LeftClaims] = set()
    for name in names:
        try:
            found = [each for each in left_claims(deliveries[name], works) if each not in told]
        except GateFault as fault:
            yield name, [], fault
        else:
            told |= set(found)
            yield name, found, None
