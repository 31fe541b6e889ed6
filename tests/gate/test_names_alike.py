"""Which neighbours of a prop some file systems could not tell from it: the quick answer beside the plain one."""

from __future__ import annotations

import unicodedata

from hypothesis import example, given, settings
from hypothesis import strategies as st

from tidegate.gate.identity import _others_like

# The Kelvin sign folds to k and the long s to s: names that are not ASCII may be the same as one that is.
names = st.text("aAsSkK\u212a\u017f\u0301e\u00e9\u00c9_", min_size=1, max_size=3)


def plainly(name: str) -> str:
    """NFC of the case-folded, one name at a time (UAX #15 for the form)."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


@settings(max_examples=300, deadline=None)
@given(name=names, there=st.lists(names, max_size=6, unique=True))
@example(name="crate", there=["Crate"])  # ASCII alone: the pass over all of them at once must not miss it
@example(name="crate", there=["crate"])  # the next version of a prop is not in its own way
@example(name="crate", there=["crate", "CRATE", "crates", "acrate"])
@example(name="k", there=["\u212a"])
@example(name="\u212a", there=["k"])
def test_the_quick_answer_is_the_plain_one(name: str, there: list[str]) -> None:
    assert _others_like(name, there) == sorted(
        other for other in there if other != name and plainly(other) == plainly(name)
    )
