"""Which rule set judges a prop. The order says it, else the category in its name, else the gate; never the drop."""

from __future__ import annotations

from collections.abc import Mapping

from tidegate.model.nearest import did_you_mean
from tidegate.model.order_row import OrderRow


def choose(
    order: OrderRow | None, category: str, of_gate: str = "", by_category: Mapping[str, str] | None = None
) -> tuple[str, str]:
    """(rule set, the reason in a sentence); the name is "" when no set fits, and the reason then says why.

    order: the prop's row of the order list. category: of the order row or, failing that, of the prop's name, "" for none.
    of_gate: the gate's own rule set, "" for none. by_category: the gate's table of rule sets.
    """
    by_category = by_category or {}
    if order is not None and order.rule_set:
        return order.rule_set, f"{_row(order)} says so"
    if order is not None and order.category:
        category, said_by = order.category, _row(order)
    else:
        said_by = "the prop's name"
    if category in by_category:
        return by_category[category], f"category `{category}` of {said_by}"
    if of_gate:
        left = category and by_category
        return (
            of_gate,
            f"the one for all others, since category `{category}` has none" if left else "the one for every prop",
        )
    if not by_category:
        return "", "the gate names no rule set, and no order row does"
    if not category:
        return (
            "",
            "no order row names a rule set, the prop's name states no category, and the gate has no set for the rest",
        )
    hint = did_you_mean(category, by_category)
    return "", f"no rule set is named for category `{category}` of {said_by}" + (f"; {hint}" if hint else "")


def _row(order: OrderRow) -> str:
    return f"the order list ({order.source}:{order.line})" if order.source else "the order list"
