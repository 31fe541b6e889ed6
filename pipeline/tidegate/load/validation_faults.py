"""What pydantic found wrong, in our words, with file, line and the nearest right key."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, get_args

from tidegate.model.limit_value import WrongValue, kind_of, shown
from tidegate.model.nearest import did_you_mean

from .faults import Faults
from .toml_file import LocatedToml

if TYPE_CHECKING:
    from pydantic import BaseModel, ValidationError

_TAKES = {
    "string_type": "a text",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "int_parsing": "a whole number",
    "int_parsing_size": "a whole number",
    "float_type": "a number",
    "float_parsing": "a number",
    "finite_number": "a number",
    "bool_type": "true or false",
    "tuple_type": "a list",
    "list_type": "a list",
    "dict_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
}
_BOUNDS = {
    "greater_than_equal": ("ge", "at least"),
    "greater_than": ("gt", "more than"),
    "less_than_equal": ("le", "at most"),
    "less_than": ("lt", "less than"),
    "string_too_short": ("min_length", "letters: at least"),
    "string_too_long": ("max_length", "letters: at most"),
}


def add_validation_faults(
    error: ValidationError, model: type[BaseModel], toml: LocatedToml, faults: Faults, under: tuple[str | int, ...] = ()
) -> None:
    """Adds every error of a validation of `toml` (or of the part of it at `under`) against `model`."""
    for item in error.errors(include_url=False):
        where = item["loc"]
        told = in_words(item["type"], where, item.get("input"), item.get("ctx") or {}, model)
        faults.add(
            told.what, toml.path, toml.line_of(*under, *where), expected=told.expected, came=told.came, help=told.help
        )


def in_words(
    kind: str, where: Sequence[str | int], value: Any, more: Mapping[str, Any], model: type[BaseModel]
) -> WrongValue:
    """One error of pydantic as a sentence. kind, where, value, more: its type, loc, input and ctx."""
    name = next((part for part in reversed(where) if isinstance(part, str)), "")
    owner = f"`{name}`" if name else "the file"
    came = f"{kind_of(value)} {shown(value)}"
    cause = more.get("error")
    if isinstance(cause, WrongValue):
        return WrongValue(f"{owner} {cause.what}", cause.expected, cause.came, cause.help)
    if kind == "missing":
        return WrongValue(f"{owner} is missing", "", "", _description(model, where))
    if kind == "extra_forbidden":
        return WrongValue(f"unknown key {owner}", "", "", did_you_mean(name, _keys_at(model, where[:-1])))
    if kind in _TAKES:
        return WrongValue(f"{owner} takes {_TAKES[kind]}", _TAKES[kind], came)
    if kind in _BOUNDS:
        key, words = _BOUNDS[kind]
        return WrongValue(f"{owner} is out of bounds", f"{words} {more[key]:g}", shown(value))
    return WrongValue(f"{owner}: {kind.replace('_', ' ')}", "", came)


def _keys_at(model: type[BaseModel], where: Sequence[str | int]) -> list[str]:
    inner = _model_at(model, where)
    return [field.alias or name for name, field in inner.model_fields.items()] if inner else []


def _description(model: type[BaseModel], where: Sequence[str | int]) -> str:
    inner = _model_at(model, where[:-1])
    if inner is None:
        return ""
    described = {field.alias or name: field.description or "" for name, field in inner.model_fields.items()}
    return described.get(str(where[-1]), "")


def _model_at(model: type[BaseModel], where: Sequence[str | int]) -> type[BaseModel] | None:
    """The table model that the keys lead to; numbers of list items lead nowhere further."""
    found: type[BaseModel] | None = model
    for part in where:
        if isinstance(part, int):
            continue
        fields = {field.alias or name: field.annotation for name, field in found.model_fields.items()} if found else {}
        found = _model_in(fields.get(part))
    return found


def _model_in(annotation: Any) -> type[BaseModel] | None:
    from pydantic import BaseModel

    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return next((found for one in get_args(annotation) if (found := _model_in(one)) is not None), None)
