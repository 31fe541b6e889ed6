"""How much an archive may unpack to."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ArchiveLimits:
    """bytes: of all files together. ratio: unpacked to packed, applied beyond 1 MiB. files: count. depth: folders."""

    bytes: int = 8 << 30
    ratio: float = 200.0
    files: int = 10_000
    depth: int = 16
