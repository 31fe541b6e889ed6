"""Growing pauses for what may heal. Pure: the time is an argument."""

from __future__ import annotations

from dataclasses import dataclass, field

from .settings import GateRules


@dataclass(frozen=True, slots=True)
class Pause:
    """tries: so far. until: monotonic time of the next. reason: the fault, one line. heals: what must happen."""

    tries: int
    until: float
    reason: str
    heals: str


@dataclass(slots=True)
class Pauses:
    """What is paused, by ticket or drop key."""

    rules: GateRules
    _paused: dict[str, Pause] = field(default_factory=dict)

    def failed(self, key: str, reason: str, heals: str, now: float) -> Pause:
        """Note one more failed try at monotonic time `now`."""
        tries = self._paused[key].tries + 1 if key in self._paused else 1
        pause = Pause(tries, now + length(tries, self.rules), reason, heals)
        self._paused[key] = pause
        return pause

    def healed(self, key: str) -> None:
        self._paused.pop(key, None)

    def due(self, key: str, now: float) -> bool:
        """Whether a step may be tried now; True for one that never failed."""
        return key not in self._paused or self._paused[key].until <= now

    def all(self) -> dict[str, Pause]:
        return dict(sorted(self._paused.items()))

    def next_due(self) -> float | None:
        return min((pause.until for pause in self._paused.values()), default=None)


def length(tries: int, rules: GateRules) -> float:
    """Seconds after the given number of failed tries: doubles each time up to the longest."""
    return min(rules.first_pause * 2.0 ** min(tries - 1, 60), rules.longest_pause)
