"""Whole drops through `examine` under every shipped set: `python -m tests.measure.clean_props --cases 2000 --spoilt 500`.

Each case writes a random drop that is right under a set (`random_drop.py`) and lists what the whole set says of it. What is there
on purpose and truly worth telling (`told_rightly`) is counted apart. Then, under furniture, one thing is spoilt at a time
(`spoilt_props.py`) and the finding that names it is looked for. Shares are printed with their 95 % interval.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from pathlib import Path
from typing import TypeVar

import numpy as np

from tests.measure.random_drop import RandomDrop, random_drop, write
from tests.measure.random_layout import BETWEEN, SETS
from tests.measure.spoilt_props import FAULTS, Outcome, tried
from tests.pixels.synthetic import wilson
from tidegate import Terms, examine, list_drop, read_names
from tidegate.load.rule_set import read_rule_set
from tidegate.model.finding import LEVELS, Finding

Case = tuple[int, str]
Result = TypeVar("Result")
SPACE = 0.05  # share of the map that handheld and furniture want covered
CROOKED = (
    0.4,
    2.6,
    32,
)  # texels a border may be off, from and to, and how long it then is, with room for how it is fitted


@cache
def _terms(rule_set: str) -> Terms:
    return Terms(scheme=read_names(), rule_set=rule_set, forced_set=True, rule_sets={rule_set: read_rule_set(rule_set)})


def said(made: RandomDrop, rule_set: str) -> tuple[Finding, ...]:
    """Every finding of a whole set on a drop, which is written, read and judged as any other."""
    terms = _terms(rule_set)
    with tempfile.TemporaryDirectory(prefix="tidegate-") as folder:
        (verdict,) = examine(list_drop(write(made, Path(folder)), terms.scheme), terms)
    return verdict.findings


def told_rightly(made: RandomDrop) -> set[str]:
    """Checks that have a true thing to tell of a drop nobody spoilt: halves that meet, islands mirrored, a map mostly empty,
    a border that chance laid within two texels of an axis."""
    true = set()
    if made.layout.gap() < BETWEEN + 0.01:
        true.add("islands-too-close")
    if made.layout.drawn["island mirrored"]:
        true.add("mirrored-islands")
    if (made.labels >= 0).mean() < SPACE + 0.001:
        true.add("map-space-wasted")
    sides = [np.roll(one.laid, -1, axis=0) - one.laid for one in made.layout.islands]
    along = np.abs(np.concatenate(sides)).T
    longer, off = np.maximum(*along), np.minimum(*along)
    if ((longer > CROOKED[2] - 2) & (off > CROOKED[0]) & (off < CROOKED[1])).any():
        true.add("crooked-borders")
    for one in made.layout.islands:  # all sides of an outline lean alike, by 5 degrees at most
        x, y = (np.roll(one.laid, -1, axis=0) - one.laid).T
        lean = (np.degrees(np.arctan2(y, x)) + 45) % 90 - 45
        if np.ptp(lean) < 0.3 and abs(lean.mean()) < 5.1:
            true.add("crooked-borders")
    emission, metal = made.maps.get("emission"), made.maps.get("metalness")
    if emission is not None and metal is not None:
        # What alone glows may be what alone is metal: two masks that differ in strength are one picture.
        lit = emission.reshape(*metal.shape, -1).max(2) > 0
        if (lit == (metal > 0)).all():
            true.add("same-picture-twice")
    return true


def clean(case: tuple[int, str]) -> tuple[int, str, Counter[str], list[tuple[str, str, str]], set[str]]:
    """(seed, set, what was drawn, false findings as level, check, message; checks that rightly spoke) of one clean drop."""
    seed, rule_set = case
    made = random_drop(seed, rule_set)
    true = told_rightly(made)
    found = said(made, rule_set)
    false = [(one.level, one.check, one.message) for one in found if one.check not in true]
    return seed, rule_set, made.layout.drawn, false, {one.check for one in found if one.check in true}


def fault(case: tuple[int, str]) -> tuple[str, Outcome]:
    seed, name = case
    return name, tried(seed, name, said)


def row(text: str, hits: int, tries: int) -> str:
    low, high = wilson(hits, tries)
    return f"| {text:<58} | {hits:>5} / {tries:<5} | {100 * hits / max(tries, 1):6.2f} | {100 * low:6.2f} to {100 * high:6.2f} |"


def report_clean(results: Iterable[tuple[int, str, Counter[str], list[tuple[str, str, str]], set[str]]]) -> None:
    drawn: Counter[str] = Counter()
    props: Counter[str] = Counter()
    worst: Counter[tuple[str, str]] = Counter()
    named: Counter[tuple[str, str, str]] = Counter()
    rightly: Counter[tuple[str, str]] = Counter()
    seen: dict[tuple[str, str, str], list[tuple[int, str]]] = {}
    for seed, rule_set, features, false, true in results:
        props[rule_set] += 1
        drawn.update({feature for feature, amount in features.items() if amount})
        worst.update({(rule_set, level) for level, _, _ in false})
        for level, check in {(level, check) for level, check, _ in false}:
            named[rule_set, level, check] += 1
            message = next(text for a, b, text in false if (a, b) == (level, check))
            seen.setdefault((rule_set, level, check), []).append((seed, message))
        rightly.update((rule_set, check) for check in true)
    print("props that show each feature: " + "; ".join(f"{name} {amount}" for name, amount in sorted(drawn.items())))
    print(f"\n| {'clean props, whole set, with any false':<58} | props         | %      | 95 % interval    |")
    print(f"|{'-' * 60}|{'-' * 15}|{'-' * 8}|{'-' * 18}|")
    for rule_set in SETS:
        for level in LEVELS:
            print(row(f"{rule_set}: {level}", worst[rule_set, level], props[rule_set]))
            for (of, at, check), amount in sorted(named.items()):
                if (of, at) == (rule_set, level):
                    print(row(f"- `{check}`", amount, props[rule_set]))
    for (rule_set, level, check), cases in sorted(seen.items()):
        print(f"{rule_set} {level} {check}: {cases[:3]}")
    for (rule_set, check), amount in sorted(rightly.items()):
        print(f"rightly told under {rule_set}: {check} on {amount} of {props[rule_set]}")


def report_faults(results: Iterable[tuple[str, Outcome]]) -> None:
    outcomes: dict[str, list[Outcome]] = {}
    for name, outcome in results:
        outcomes.setdefault(name, []).append(outcome)
    print(f"\n| {'fault, under furniture: named by its check':<58} | props         | %      | 95 % interval    |")
    print(f"|{'-' * 60}|{'-' * 15}|{'-' * 8}|{'-' * 18}|")
    for name, found in outcomes.items():
        print(row(f"{name}: `{FAULTS[name].check}`", sum(one.named for one in found), len(found)))
        any_ = sum(one.told for one in found)
        if any_ != sum(one.named for one in found):
            print(row("- anything told that the clean prop is not told", any_, len(found)))
        if FAULTS[name].exact:
            sized = [one for one in found if one.exact is not None]
            print(row(f"- measured: {FAULTS[name].exact}", sum(bool(one.exact) for one in sized), len(sized)))
        missed = [one.seed for one in found if not one.named][:8]
        if missed:
            print(f"  missed: seeds {missed}")


def walk(work: Iterable[Case], one: Callable[[Case], Result], jobs: int, minutes: float) -> Iterator[Result]:
    """Results in the order of the work, as far as the minutes go."""
    end = time.monotonic() + 60 * minutes
    with ProcessPoolExecutor(jobs) as pool:
        for result in pool.map(one, list(work)):
            yield result
            if time.monotonic() > end:
                pool.shutdown(cancel_futures=True)
                return


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--cases", type=int, default=2000, help="clean props under each set")
    asked.add_argument("--spoilt", type=int, default=500, help="props for each kind of fault")
    asked.add_argument("--seed", type=int, default=0, help="number of the first prop")
    asked.add_argument("--set", nargs="*", default=list(SETS), choices=list(SETS), help="shipped rule sets")
    asked.add_argument("--fault", nargs="*", default=list(FAULTS), choices=list(FAULTS), help="kinds of fault")
    asked.add_argument("--jobs", type=int, default=1, help="processes")
    asked.add_argument(
        "--minutes", type=float, default=1e6, help="for each of the two runs: stop and tell what was seen so far"
    )
    options = asked.parse_args()
    if options.cases:
        seeds = range(options.seed, options.seed + options.cases)
        report_clean(
            walk([(seed, name) for seed in seeds for name in options.set], clean, options.jobs, options.minutes)
        )
    if options.spoilt:
        seeds = range(options.seed, options.seed + options.spoilt)
        report_faults(
            walk([(seed, name) for seed in seeds for name in options.fault], fault, options.jobs, options.minutes)
        )


if __name__ == "__main__":
    main()
