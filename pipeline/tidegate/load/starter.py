"""The files a new studio project starts with, written from the declarations, so they cannot fall behind them."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from tidegate.model.settings import FOLDERS, Configuration, Gate

_WIDTH = 110
_EXAMPLES: Mapping[str, Any] = {
    "names": "names.toml",
    "rule_folders": ("rules",),
    "library_folders": ("shared_maps",),
    "order_list": "orders.csv",
    "owner": "props",
    "rule_set_by_category": {"tool": "handheld", "furniture": "furniture"},
    "ready_file": "ready",
    "unit": "m",
}
"""Shown, commented out, for keys whose default says nothing."""


def starter_configuration(
    *, gate: str = "props", rule_set: str = "first_look", names: str = "", rule_folder: str = "", order_list: str = ""
) -> str:
    """A commented `tidegate.toml` with one gate. Every key is in it: those that need a value with one, the others
    commented out at their default. names, rule_folder, order_list: paths relative to the file, "" to leave them out."""
    folders = {key: key for key in FOLDERS}
    set_here: dict[str, dict[str, Any]] = {
        "studio": {"names": names, "rule_folders": (rule_folder,) if rule_folder else ()},
        "gate": {"name": gate, "rule_set": rule_set, "order_list": order_list, **folders},
    }
    lines = [
        "# Configuration of tidegate. Paths count from the folder of this file. Keys that are commented out show their",
        "# default, or an example where the default is nothing. `tidegate watch` reads this file anew when it changes.",
    ]
    for name, field in Configuration.model_fields.items():
        key = field.alias or name
        model = Gate if key == "gate" else _table(field)
        assert model is not None
        lines += ["", *_comment(model.__doc__), f"[[{key}]]" if key == "gate" else f"[{key}]"]
        lines += _keys(model, key, set_here.get(key, {}))
    return "\n".join(lines) + "\n"


def starter_rule_set(title: str, starts_from: str = "first_look") -> str:
    """A commented rule set to edit, which judges as the one it starts from until something is changed in it."""
    return f"""\
# A rule set of your own. It judges as `{starts_from}` does until you change something here.
# `tidegate why CHECK` explains a check and its limits; `tidegate rules` shows what is in force and which line says so.

title = {_toml(title)}
starts_from = {_toml(starts_from)}

# A rule names a check, a level ("error", "warning", "note" or "off") and the limits that are to differ:
#
# [[rule]]
# check = "texel-density-out-of-range"
# level = "error"
# wanted = 512          # px/m: texels per metre
# tolerance = 0.25      # share above and below
#
# and, where it is for a part of the prop only, which part, by name patterns:
#
# [[rule]]
# check = "triangles-over-budget"
# for = {{ role = ["lod*"] }}
# most = 4000           # triangles
"""


def _keys(model: type[BaseModel], table: str, set_here: Mapping[str, Any]) -> Iterator[str]:
    """The lines of a table: plain keys first, since TOML gives what follows a table's head to that table."""
    plain = {name: field for name, field in model.model_fields.items() if _table(field) is None}
    for name, field in plain.items():
        value = set_here.get(name)
        yield from _comment(field.description)
        if value:
            yield f"{name} = {_toml(value)}"
        else:
            default: Any = (
                None if field.is_required() else field.get_default(call_default_factory=True, validated_data={})
            )
            shown = _EXAMPLES.get(name, default)
            yield f"# {name} = {_toml(shown)}"
    for name, field in model.model_fields.items():
        inner = _table(field)
        if inner is not None:
            yield from ("", *_comment(inner.__doc__), f"[{table}.{name}]")
            yield from _keys(inner, f"{table}.{name}", {})


def _table(field: FieldInfo) -> type[BaseModel] | None:
    kind = field.annotation
    return kind if isinstance(kind, type) and issubclass(kind, BaseModel) else None


def _comment(text: str | None) -> list[str]:
    return [f"# {line}" for line in textwrap.wrap(" ".join((text or "").split()), _WIDTH)]


def _toml(value: Any) -> str:
    """A value as TOML writes it. JSON's texts, numbers and truth values are TOML's too."""
    if isinstance(value, Path):
        value = value.as_posix()
    if isinstance(value, tuple | list):
        return "[" + ", ".join(_toml(item) for item in value) + "]"
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {_toml(item)}" for key, item in value.items()) + " }"
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    return json.dumps(value, ensure_ascii=False)
