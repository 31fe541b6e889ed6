"""Order row, then category, then gate; a drop has no say."""

import inspect

import pytest

from tidegate.judge.choose import choose
from tidegate.model.order_row import OrderRow

TABLE = {"tool": "handheld", "furniture": "furniture"}


def order(**given: str) -> OrderRow:
    return OrderRow(name="net_needle", source="orders.csv", line=7, **given)


@pytest.mark.parametrize(
    ("row", "category", "of_gate", "table", "name", "reason"),
    [
        # The order row wins over everything that could be said besides.
        (
            order(rule_set="own", category="tool"),
            "furniture",
            "gate_set",
            TABLE,
            "own",
            "the order list (orders.csv:7)",
        ),
        (order(rule_set="own"), "", "", {}, "own", "the order list (orders.csv:7) says so"),
        # The category ordered wins over the one in the name.
        (order(category="tool"), "furniture", "gate_set", TABLE, "handheld", "category `tool` of the order list"),
        (order(), "furniture", "gate_set", TABLE, "furniture", "category `furniture` of the prop's name"),
        (None, "furniture", "", TABLE, "furniture", "category `furniture` of the prop's name"),
        # A category without a set falls to the gate, whoever said it.
        (order(category="boat"), "tool", "gate_set", TABLE, "gate_set", "since category `boat` has none"),
        (None, "boat", "gate_set", TABLE, "gate_set", "since category `boat` has none"),
        (None, "", "gate_set", TABLE, "gate_set", "the one for every prop"),
        (None, "tool", "gate_set", {}, "gate_set", "the one for every prop"),
        # Nothing fits: no name, and the reason.
        (
            None,
            "tol",
            "",
            TABLE,
            "",
            "no rule set is named for category `tol` of the prop's name; did you mean `tool`?",
        ),
        (order(category="boat"), "tool", "", TABLE, "", "category `boat` of the order list (orders.csv:7)"),
        (None, "", "", TABLE, "", "the prop's name states no category"),
        (None, "tool", "", {}, "", "the gate names no rule set"),
        # Categories are words of the names scheme: case counts.
        (None, "Tool", "", TABLE, "", "did you mean `tool`?"),
    ],
)
def test_who_decides(row, category, of_gate, table, name, reason):
    chosen, said = choose(row, category, of_gate, table)
    assert chosen == name
    assert reason in said
    assert not said.endswith(".")


def test_without_a_table():
    assert choose(None, "tool", "gate_set") == ("gate_set", "the one for every prop")


def test_nothing_of_the_drop_but_its_category_is_asked():
    """A drop that carried a rule set, or named one, has no argument to bring it in by."""
    assert list(inspect.signature(choose).parameters) == ["order", "category", "of_gate", "by_category"]
