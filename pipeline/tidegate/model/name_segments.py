"""Which words of a name belong to which field.

Vocabularies and numbers hold a name at both ends, free fields share what is left between them. All ways of laying the
fields over the words in their order are compared by dynamic programming, and the least bad one wins:

1. fewest wanted fields without words, 2. fewest words without a field, 3. the longest asset that is already known,
4. most words held by vocabularies and numbers, 5. fewest wrong joints, 6. fewest one-word fields with several words,
7. the most words for the asset, which takes what nobody else claims.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from .name_field import NameField
from .name_words import Words, folded

Cost = tuple[int, int, int, int, int, int, int]
_NOTHING: Cost = (0, 0, 0, 0, 0, 0, 0)


@dataclass(frozen=True, slots=True)
class Layout:
    """runs: (field, first word, word behind the last) in the order of the name. missing: wanted fields without words.
    left_over: numbers of words without a field. equal: how many layouts are as good as this one, itself counted."""

    runs: tuple[tuple[NameField, int, int], ...]
    missing: tuple[NameField, ...]
    left_over: tuple[int, ...]
    equal: int
    cost: Cost


def lay_out(
    words: Words, order: Sequence[NameField], wanted: frozenset[str], assets: frozenset[tuple[str, ...]]
) -> Layout:
    """The best layout of fields over words. assets: folded words of known assets."""
    count = len(words.words)
    keys = folded(words.words)
    # best[i]: (cost, ways, runs so far as linked pairs) of having used up the first i words with the fields so far.
    State = tuple[Cost, int, tuple[object, ...]]
    best: dict[int, State] = {0: (_NOTHING, 1, ())}
    for field in order:
        _skip_words(best, count)
        following: dict[int, State] = {}
        for start in sorted(best):
            cost, ways, path = best[start]
            absent: Cost = (1, 0, 0, 0, 0, 0, 0) if field.name in wanted else _NOTHING
            _offer(following, start, (_add(cost, absent), ways, path))
            for stop in range(start + 1, _furthest(field, start, count) + 1):
                step = _cost_of(field, words, keys, start, stop, assets)
                if step is not None:
                    _offer(following, stop, (_add(cost, step), ways, (path, field, start, stop)))
        best = following
    _skip_words(best, count)
    cost, ways, path = best[count]
    runs: list[tuple[NameField, int, int]] = []
    while path:
        # A chain of nested pairs has no finite type; each link is unpacked into the next.
        path, field, start, stop = path  # type: ignore[assignment]
        runs.append((field, start, stop))
    runs.reverse()
    held = {i for _, start, stop in runs for i in range(start, stop)}
    present = {field.name for field, _, _ in runs}
    return Layout(
        tuple(runs),
        tuple(field for field in order if field.name in wanted and field.name not in present),
        tuple(i for i in range(count) if i not in held),
        ways,
        cost,
    )


def _add(a: Cost, b: Cost) -> Cost:
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2], a[3] + b[3], a[4] + b[4], a[5] + b[5], a[6] + b[6])


def _offer(
    states: dict[int, tuple[Cost, int, tuple[object, ...]]], at: int, new: tuple[Cost, int, tuple[object, ...]]
) -> None:
    old = states.get(at)
    if old is None or new[0] < old[0]:
        states[at] = new
    elif new[0] == old[0]:
        states[at] = (old[0], old[1] + new[1], old[2])


def _skip_words(states: dict[int, tuple[Cost, int, tuple[object, ...]]], count: int) -> None:
    for i in range(count):
        if i in states:
            cost, ways, path = states[i]
            _offer(states, i + 1, (_add(cost, (0, 1, 0, 0, 0, 0, 0)), ways, path))


def _furthest(field: NameField, start: int, count: int) -> int:
    return count if field.free else min(count, start + field.longest_match)


def _cost_of(
    field: NameField,
    words: Words,
    keys: tuple[str, ...],
    start: int,
    stop: int,
    assets: frozenset[tuple[str, ...]],
) -> Cost | None:
    joint = 0 if start == 0 or words.joints[start] in field.before else 1
    if not field.free:
        key = keys[start:stop]
        if not field.recognises(key):
            return None
        # The longest word wins: "color" inside "base_color" is not a word of its own.
        if any(field.recognises(keys[i:stop]) for i in range(max(0, stop - field.longest_match), start)):
            return None
        return (0, 0, 0, start - stop, joint, 0, 0)
    joint += sum(1 for inner in words.joints[start + 1 : stop] if not field.inner_joint_fits(inner))
    one_word = 1 if not field.several_words and any(words.joints[start + 1 : stop]) else 0
    if field.name != "asset":
        return (0, 0, 0, 0, joint, one_word, 0)
    known = start - stop if keys[start:stop] in assets else 0
    return (0, 0, known, 0, joint, one_word, start - stop)
