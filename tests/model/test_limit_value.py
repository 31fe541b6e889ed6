"""Values of limits: one kept form, both sides of every bound."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.model.check import Limit
from tidegate.model.limit_value import OFF, WrongValue, accepted, bounds_text, kind_of, shown

VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text("aboff", max_size=4),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text("ab", max_size=2), inner, max_size=2),
    max_leaves=5,
)
LIMITS = [
    Limit("a", "number", 1, low=0, high=5),
    Limit("a", "number", None),
    Limit("a", "integer", 1, low=0),
    Limit("a", "text", ""),
    Limit("a", "boolean", True),
    Limit("a", "texts", []),
    Limit("a", "numbers", [], high=9),
    Limit("a", "range", [0, 1]),
    Limit("a", "choice", "a", choices=("a", "b")),
    Limit("a", "table", {}),
]


@settings(max_examples=60, deadline=None)
@given(VALUES)
def test_any_value_is_kept_in_a_form_that_stays_or_is_refused_in_words(value: object):
    for limit in LIMITS:
        try:
            kept = accepted(limit, value)
        except WrongValue as wrong:
            assert wrong.what.startswith("`a` ")
            assert wrong.expected and wrong.came
        else:
            assert accepted(limit, kept) == kept
            assert not (isinstance(kept, float) and not math.isfinite(kept))


@pytest.mark.parametrize(("value", "kind"), [(512, float), (512.0, float)])
def test_a_whole_number_and_a_decimal_are_one_number(value: float, kind: type):
    kept = accepted(Limit("a", "number", 1), value)
    assert (kept, type(kept)) == (512.0, kind)


@pytest.mark.parametrize("value", [True, False])
def test_a_truth_value_is_no_number(value: bool):
    for kind in ("number", "integer"):
        with pytest.raises(WrongValue):
            accepted(Limit("a", kind, 0), value)


def test_off_is_for_limits_that_are_off_by_default():
    assert accepted(Limit("a", "number", None), OFF) is None
    assert accepted(Limit("a", "texts", None), OFF) is None
    with pytest.raises(WrongValue):
        accepted(Limit("a", "number", 3), OFF)


def test_every_item_of_a_list_of_words_is_held_against_the_choices():
    limit = Limit("kinds", "texts", [], choices=("mesh", "map"))
    assert accepted(limit, ["map", "mesh"]) == ("map", "mesh")
    with pytest.raises(WrongValue) as caught:
        accepted(limit, ["map", "mehs"])
    assert caught.value.help == "did you mean `mesh`?"


def test_tables_are_sorted_so_that_their_order_in_the_file_decides_nothing():
    limit = Limit("a", "table", {})
    assert list(accepted(limit, {"b": 1, "a": "x"}).items()) == [("a", "x"), ("b", 1.0)]


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [
        (0, 90, "from 0 to 90 degrees"),
        (1, None, "at least 1 degree"),
        (None, 2.5, "at most 2.5 degrees"),
        (None, None, ""),
    ],
)
def test_bounds_in_words(low: float | None, high: float | None, text: str):
    assert bounds_text(Limit("a", "number", 1, unit="degrees", low=low, high=high)) == text


def test_values_as_toml_writes_them():
    assert [shown(value) for value in (True, "x", 3, 2.5)] == ["true", '"x"', "3", "2.5"]
    assert len(shown("x" * 500)) == 60
    assert [kind_of(value) for value in (True, 1, 1.5, "x", [], {})] == [
        "a truth value",
        "a whole number",
        "a number",
        "a text",
        "a list",
        "a table",
    ]
