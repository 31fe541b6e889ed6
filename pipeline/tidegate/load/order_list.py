"""Order lists from CSV and TOML: what was ordered, a row a prop.

CSV has a header line with the names of its columns, in any order; all but `name` may be missing or empty:

    name, owner, category, triangles, triangles_lod1, map_size, map_size_normal, variants, width_m, height_m, depth_m,
    rule_set, due

`triangles` is the budget of the model itself, `triangles_lod1` and `triangles_collision` that of another role;
`map_size` is for every map, `map_size_normal` for the maps of one slot. Variants stand with blanks, commas, `;` or `|`
between them. TOML holds the same keys in `[[prop]]` tables, with `variants` as a list.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from datetime import date, datetime
from pathlib import Path
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from tidegate.errors import ConfigurationFault
from tidegate.model.limit_value import WrongValue, kind_of, shown
from tidegate.model.nearest import did_you_mean, nearest
from tidegate.model.order_row import OrderRow

from .faults import Faults
from .rule_folder import is_path
from .table_file import Table, read_table
from .toml_file import read_toml
from .validation_faults import in_words

TRIANGLES, MAP_SIZE = "triangles", "map_size"
_OF_A_ROLE = re.compile(r"triangles_(model|collision|lod[0-9]{1,2})")
_OF_A_SLOT = re.compile(r"map_size_([a-z][a-z0-9_]*)")


def _prop_name(value: str) -> str:
    if not value or not value.isprintable() or any(sign in value for sign in "/\\"):
        raise WrongValue("is no name of a prop", "a name without slashes", shown(value))
    return value


def _rule_set_name(value: str) -> str:
    if is_path(value):
        raise WrongValue("takes the name of a rule set", "a name, not a file", shown(value))
    return value


def _variants(value: Any) -> Any:
    if isinstance(value, str):
        return tuple(part for part in re.split(r"[\s;|,]+", value) if part)
    return tuple(value) if isinstance(value, list) else value


def _all_different(value: tuple[str, ...]) -> tuple[str, ...]:
    for variant in value:
        if not variant or value.count(variant) > 1:
            raise WrongValue("names a variant twice" if variant else "holds an empty name", "", shown(list(value)))
    return value


def _date(value: Any) -> str:
    """ISO 8601 as a text; TOML has dates of its own."""
    text = value.isoformat() if isinstance(value, date) and not isinstance(value, datetime) else value
    try:
        if isinstance(text, str) and re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
            return date.fromisoformat(text).isoformat()
    except ValueError:
        pass
    raise WrongValue("is no date", "year-month-day, such as 2027-03-01", f"{kind_of(value)} {shown(value)}")


Count = Annotated[int, Field(ge=1, le=2_000_000_000)]
Metres = Annotated[float, Field(gt=0, le=100_000, allow_inf_nan=False)]


class _Order(BaseModel):
    """One row. Keys beyond these are budgets and map sizes, sorted out by name before a row comes here."""

    model_config = ConfigDict(extra="allow", frozen=True, defer_build=True)
    __pydantic_extra__: dict[str, Count]

    name: Annotated[str, AfterValidator(_prop_name)]
    owner: str = ""
    category: str = ""
    triangles: Count | None = None
    map_size: Count | None = None
    variants: Annotated[tuple[str, ...], BeforeValidator(_variants), AfterValidator(_all_different)] = ()
    width_m: Metres | None = None
    height_m: Metres | None = None
    depth_m: Metres | None = None
    rule_set: Annotated[str, AfterValidator(_rule_set_name)] = ""
    due: Annotated[str, BeforeValidator(_date)] = ""


SIDES = ("width_m", "height_m", "depth_m")
COLUMNS = tuple(_Order.model_fields)
_MISTYPED = 0.8
"""Share of agreeing letters from which an unknown category is a mistyped one; found by trying, `common practice, no source`."""


class _List:
    """Rows taken so far, and what is wrong with them."""

    def __init__(self, path: str | Path, slots: Collection[str] | None, categories: Collection[str]) -> None:
        self.path = str(path)
        self.slots = slots
        self.categories = categories
        self.faults = Faults()
        self.rows: dict[str, OrderRow] = {}
        self._lines: dict[str, int] = {}  # by name without regard to case, of rows with faults too

    def fault(self, what: str, line: int, *, expected: str = "", came: str = "", help: str = "") -> None:
        self.faults.add(what, self.path, line, expected=expected, came=came, help=help)

    def known(self, column: str, line: int) -> bool:
        """Whether a column has a meaning; a fault with the nearest one when it has not."""
        slot = _OF_A_SLOT.fullmatch(column)
        if slot and self.slots is not None and slot[1] not in self.slots:
            self.fault(f"`{column}` is for an unknown slot", line, help=did_you_mean(slot[1], self.slots))
            return False
        if column in COLUMNS or slot or _OF_A_ROLE.fullmatch(column):
            return True
        examples = [*COLUMNS, *(f"{TRIANGLES}_{role}" for role in ("lod1", "lod2", "lod3", "collision"))]
        self.fault(f"unknown column `{column}`", line, help=did_you_mean(column, examples))
        return False

    def take(
        self, values: Mapping[str, Any], line: int, *, strict: bool, lines: Mapping[str, int] | None = None
    ) -> None:
        """One row. strict: a text is no number (TOML). lines: of single values, where they are known."""
        lines = lines or {}
        try:
            order = _Order.model_validate(dict(values), strict=strict)
        except ValidationError as error:
            for item in error.errors(include_url=False):
                where = item["loc"]
                told = in_words(item["type"], where, item.get("input"), item.get("ctx") or {}, _Order)
                at = lines.get(str(where[0]), line)
                self.fault(told.what, at, expected=told.expected, came=told.came, help=told.help)
            self._once(values.get("name"), line)
            return
        self._category(order.category, lines.get("category", line))
        given = [side for side in SIDES if getattr(order, side) is not None]
        if given and len(given) < len(SIDES):
            left_out = ", ".join(f"`{side}`" for side in SIDES if side not in given)
            self.fault(f"the size of `{order.name}` is not whole", line, help=f"state {left_out} too, or none of them")
        if self._once(order.name, line):
            self.rows[order.name] = _row(order, self.path, line)

    def _category(self, category: str, line: int) -> None:
        """A fault for a category that is a known one but for a letter or two: its props would be judged by the gate's own set."""
        like = "" if category in self.categories else nearest(category, self.categories, _MISTYPED)
        if like:
            self.fault(f"`{category}` is no category known here", line, help=f"did you mean `{like}`?")

    def _once(self, name: Any, line: int) -> bool:
        if not isinstance(name, str) or not name:
            return False
        # Names that differ in case alone would meet in one delivery folder on many disks.
        first = self._lines.setdefault(name.casefold(), line)
        if first != line:
            self.fault(f"`{name}` is ordered twice", line, came=f"also in line {first}")
        return first == line


def read_order_list(
    path: str | Path, slots: Collection[str] | None = None, categories: Collection[str] = ()
) -> dict[str, OrderRow]:
    """The rows of an order list by the name of the prop, in the order of the file.

    slots: names of the slots that exist; an order for any other is a fault. None takes every name.
    categories: those that are known; one that is mistyped is a fault, one that is like none of them is a studio's own.
    Raises ConfigurationFault with every fault of the file.
    """
    found = _List(path, slots, categories)
    if Path(path).suffix.lower() == ".toml":
        _take_toml(found)
    else:
        _take_table(found, read_table(path))
    found.faults.raise_any()
    return found.rows


def _take_table(found: _List, table: Table) -> None:
    if not table.rows:
        raise ConfigurationFault(
            "is empty", path=found.path, help="the first line names the columns: " + ", ".join(COLUMNS)
        )
    header = table.rows[0]
    columns = [re.sub(r"[\s-]+", "_", cell.casefold()) for cell in header.cells]
    for column in dict.fromkeys(columns):
        if columns.count(column) > 1 and column:
            found.fault(f"column `{column}` stands there twice", header.line)
    known = {column for column in dict.fromkeys(columns) if column and found.known(column, header.line)}
    if "name" not in columns:
        # Without it every row would be told to miss its name.
        found.fault("has no column `name`", header.line, help="the first line names the columns")
        return
    for row in table.rows[1:]:
        if any(row.cells[len(columns) :]) or any(
            cell for cell, column in zip(row.cells, columns, strict=False) if not column
        ):
            found.fault(
                "has a cell that no column is named for", row.line, help="is a separator inside a cell unquoted?"
            )
        cells = {column: cell for column, cell in zip(columns, row.cells, strict=False) if column in known and cell}
        if table.separator != ",":  # where commas are free, spreadsheets write decimals with one
            cells = {key: cell.replace(",", ".") if key in SIDES else cell for key, cell in cells.items()}
        found.take(cells, row.line, strict=False)


def _take_toml(found: _List) -> None:
    toml = read_toml(found.path)
    for key in toml.values:
        if key != "prop":
            found.fault(f"unknown key `{key}`", toml.line_of(key), help="write [[prop]] above each row")
    tables = toml.values.get("prop", [])
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        found.fault("`prop` is not a list of rows", toml.line_of("prop"), help="write [[prop]] above each row")
        return
    for number, table in enumerate(tables):
        lines = {key: toml.line_of("prop", number, key) for key in table}
        known = {key: value for key, value in table.items() if found.known(key, lines[key])}
        found.take(known, toml.line_of("prop", number), strict=True, lines=lines)


def _row(order: _Order, path: str, line: int) -> OrderRow:
    size = None
    if order.width_m is not None and order.height_m is not None and order.depth_m is not None:
        size = (order.width_m, order.height_m, order.depth_m)
    return OrderRow(
        name=order.name,
        owner=order.owner,
        category=order.category,
        triangles=tuple(_amounts(order, order.triangles, "model", _OF_A_ROLE)),
        map_sizes=tuple(_amounts(order, order.map_size, "", _OF_A_SLOT)),
        variants=order.variants,
        size_m=size,
        rule_set=order.rule_set,
        due=order.due,
        source=Path(path).name,
        line=line,
    )


def _amounts(order: _Order, plain: int | None, plain_name: str, pattern: re.Pattern[str]) -> Iterator[tuple[str, int]]:
    """(role or slot, amount) pairs, the plain column first, the others by name."""
    if plain is not None:
        yield plain_name, plain
    for column, amount in sorted(order.__pydantic_extra__.items()):
        named = pattern.fullmatch(column)
        if named:
            yield named[1], amount
