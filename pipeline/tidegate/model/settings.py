"""What may stand in a `tidegate.toml`, with defaults, bounds and the explanation that a new one is written with.

The docstring under a field is its description: the comment above the key in the file that `tidegate new` writes, and
the help when the key is missing. Paths become absolute from the folder given as validation context; nothing here touches disk.
"""

from __future__ import annotations

import os.path
import re
from pathlib import Path
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    Strict,
    ValidationInfo,
    model_validator,
)

from .limit_value import WrongValue, kind_of, shown
from .nearest import did_you_mean
from .units import METRES

PICTURES = ("fault_sheet", "cut_out", "guide_sheet", "density_map", "stretch_map")
WATCH = ("auto", "native", "poll")
UP_AXES = ("y", "z")


def _absolute(value: Any, info: ValidationInfo) -> Path:
    """A path as written, made absolute from the folder of the file it stands in; lexically, without looking."""
    if isinstance(value, Path):
        value = str(value)
    if not isinstance(value, str):
        raise WrongValue("takes a path", "a path in quotes", f"{kind_of(value)} {shown(value)}")
    if not value.strip() or "\0" in value:
        raise WrongValue("takes a path", "a path in quotes", shown(value))
    if value.startswith("~"):
        raise WrongValue(
            "is not spelled out", "a whole or a relative path", shown(value), "write the home folder in full"
        )
    folder = (info.context or {}).get("folder", ".")
    return Path(os.path.normpath(os.path.join(folder, value)))  # noqa: PTH118 - Path keeps `..`


def _one_of(*choices: str) -> AfterValidator:
    def check(value: str) -> str:
        if value not in choices:
            listed = "one of " + ", ".join(f'"{choice}"' for choice in choices)
            raise WrongValue(f"does not know {shown(value)}", listed, shown(value), did_you_mean(value, choices))
        return value

    return AfterValidator(check)


def _metres(value: Any) -> float:
    """A unit by name, or metres per unit."""
    expected = "one of " + ", ".join(f'"{name}"' for name in METRES) + ", or metres per unit"
    if isinstance(value, str):
        if value in METRES:
            return METRES[value]
        raise WrongValue(f"does not know the unit {shown(value)}", expected, shown(value), did_you_mean(value, METRES))
    if isinstance(value, bool) or not isinstance(value, int | float) or not 1e-6 <= value <= 1e6:
        raise WrongValue("is no unit", expected, f"{kind_of(value)} {shown(value)}")
    return float(value)


def _gate_name(value: str) -> str:
    if not re.fullmatch(r"[a-z0-9][a-z0-9_-]{0,39}", value):
        raise WrongValue(
            "is no name for a gate", "up to 40 of a-z, 0-9, `_` and `-`, a letter or digit first", shown(value)
        )
    return value


def _field_name(value: str) -> str:
    if not re.fullmatch(r"[a-z][a-z0-9_]*", value):
        raise WrongValue("is no name field", "names of fields of the names scheme", shown(value))
    return value


def _pattern(value: str) -> str:
    if not value or "/" in value or value.strip("*?") == "":
        raise WrongValue("is no name pattern", "a file name with `*` and `?`, not every name", shown(value))
    return value


def _file_name(value: str) -> str:
    if (value and not re.fullmatch(r"[A-Za-z0-9._-]+", value)) or value in (".", ".."):
        raise WrongValue("is no file name", "letters, digits, `.`, `_` and `-`", shown(value))
    return value


Located = Annotated[Path, BeforeValidator(_absolute)]
Locations = Annotated[tuple[Located, ...], Strict(False)]
Patterns = Annotated[tuple[Annotated[str, AfterValidator(_pattern)], ...], Strict(False)]
FieldNames = Annotated[tuple[Annotated[str, AfterValidator(_field_name)], ...], Strict(False)]
Pictures = Annotated[tuple[Annotated[str, _one_of(*PICTURES)], ...], Strict(False)]
Seconds = Annotated[float, Field(ge=0, le=604_800, allow_inf_nan=False)]
Pause = Annotated[float, Field(ge=0.1, le=604_800, allow_inf_nan=False)]
Mebibytes = Annotated[int, Field(ge=1, le=1_048_576)]


class _Table(BaseModel):
    """A table of the file: no key beyond the declared, no value turned into another kind."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, use_attribute_docstrings=True, defer_build=True)


class Studio(_Table):
    """What holds for all gates."""

    names: Located | None = None
    """The names scheme: how names of files are built. Without it, the scheme that tidegate comes with."""
    rule_folders: Locations = ()
    """Folders with rule sets of your own, searched before the ones that tidegate comes with."""
    library_folders: Locations = ()
    """Folders with shared maps that props may refer to. They are only read from."""
    partial_names: Patterns = (
        "*.part",
        "*.partial",
        "*.tmp",
        "*.temp",
        "*.crdownload",
        "*.filepart",
        "*.swp",
        "~*",
        ".~*",
    )
    """Files that are still being copied. A drop waits while one of them is in it."""
    litter_names: Patterns = ("Thumbs.db", "desktop.ini", ".DS_Store", "._*", ".nfs*", ".fuse_hidden*")
    """Files that are never part of a drop. They stay where they are."""


class Daemon(_Table):
    """How `tidegate watch` works."""

    workers: Annotated[int, Field(ge=0, le=256)] = 0
    """Props examined at the same time, each in a process of its own. 0: one a core."""
    grace_seconds: Seconds = 20.0
    """How long a stop waits for the props in hand before it gives them back."""
    first_pause_seconds: Pause = 2.0
    """Pause before a step that may heal by itself is tried again. It doubles each time ..."""
    longest_pause_seconds: Pause = 600.0
    """... up to this."""

    @model_validator(mode="after")
    def _pauses_grow(self) -> Daemon:
        if self.first_pause_seconds > self.longest_pause_seconds:
            first, longest = f"{self.first_pause_seconds:g}", f"{self.longest_pause_seconds:g}"
            raise WrongValue("has a first pause longer than the longest", f"at most {longest}", first)
        return self


class Limits(_Table):
    """What examining one prop may cost. A drop that wants more is set aside."""

    memory_mb: Annotated[int, Field(ge=128, le=1_048_576)] = 4096
    """Memory of one worker, in MiB."""
    seconds: Annotated[float, Field(ge=1, le=604_800, allow_inf_nan=False)] = 300.0
    """Time for one prop."""
    file_mb: Mebibytes = 4096
    """Size of one file of a drop, in MiB."""


class Archives(_Table):
    """What a zip or tar.gz may unpack to."""

    unpacked_mb: Mebibytes = 8192
    """All files of an archive together, in MiB."""
    ratio: Annotated[float, Field(ge=1, le=1_000_000, allow_inf_nan=False)] = 200.0
    """Unpacked size over packed size, once it unpacks to more than 1 MiB."""
    files: Annotated[int, Field(ge=1, le=1_000_000)] = 10_000
    """How many files it may hold."""
    depth: Annotated[int, Field(ge=1, le=100)] = 16
    """How many folders deep they may lie."""


class Gate(_Table):
    """One inbox with its rule set and its folders. Repeat [[gate]] for more."""

    name: Annotated[str, AfterValidator(_gate_name)]
    """What this gate is called in reports, tickets and logs."""
    owner: Annotated[str, Field(min_length=1, max_length=100)]
    """In whose name this gate delivers, such as a vendor. Without it, the gate's own name."""
    inbox: Located
    """Where artists drop their exports."""
    work: Located
    """The gate's own folder. A drop is moved here while it is examined."""
    delivery: Located
    """Where approved props go, and nothing else."""
    returned: Located
    """Where props with errors go, with the report beside them."""
    aside: Located
    """Where drops go that could not be judged."""
    kept: Annotated[Located, Field(validate_default=True)] = Path("kept")
    """Where unpacked archives go, and files that a mended one took the place of."""
    rule_set: str = ""
    """The rule set that judges, by name or path, unless the order list or the category says another."""
    rule_set_by_category: Annotated[dict[str, str], Field(default_factory=dict)]
    """Rule sets by the category in a prop's name."""
    order_list: Located | None = None
    """What was ordered, a row a prop: CSV or TOML."""
    quiet_seconds: Seconds = 5.0
    """A drop has arrived when nothing of it changed for this long."""
    wait_for_textures_seconds: Seconds = 120.0
    """How long a mesh waits for maps that it names. Then it is judged as it is."""
    stalled_seconds: Seconds = 3600.0
    """A file that is not whole by its own format and has not grown for this long is taken as it is, and the drop told so."""
    scan_seconds: Annotated[float, Field(ge=0.1, le=86_400, allow_inf_nan=False)] = 10.0
    """The inbox is looked through this often, whatever events say."""
    watch: Annotated[str, _one_of(*WATCH)] = "auto"
    """`native` file events, `poll` for network folders, or `auto` by the kind of file system."""
    ready_file: Annotated[str, AfterValidator(_file_name)] = ""
    """With a name here, a drop folder is taken once a file of this name is in it, and not before."""
    unit: Annotated[float, BeforeValidator(_metres)] = 1.0
    """Unit of formats that state none (OBJ, PLY, STL): `m`, `cm`, `mm`, `in`, `ft`, or metres per unit."""
    up_axis: Annotated[str, _one_of(*UP_AXES)] = "y"
    """The axis that points up in those formats: `y` or `z`."""
    place: FieldNames = ("category",)
    """Folders between the delivery folder and the prop: name fields, outermost first. `no_category` for a name without one."""
    pictures: Pictures = ("fault_sheet", "cut_out")
    """Pictures beside each report: any of `fault_sheet`, `cut_out`, `guide_sheet`, `density_map`, `stretch_map`."""
    limits: Annotated[Limits, Field(default_factory=Limits)]
    archives: Annotated[Archives, Field(default_factory=Archives)]

    @model_validator(mode="before")
    @classmethod
    def _owner_is_the_gate(cls, data: Any) -> Any:
        if isinstance(data, dict) and "owner" not in data and isinstance(data.get("name"), str):
            return {**data, "owner": data["name"]}
        return data

    @property
    def folders(self) -> dict[str, Path]:
        """The gate's folders by key, in the order of the file."""
        return {key: getattr(self, key) for key in FOLDERS}


FOLDERS = ("inbox", "work", "delivery", "returned", "aside", "kept")


class Configuration(_Table):
    """A whole `tidegate.toml`. `Configuration()` is what holds without one: no gate, defaults everywhere."""

    studio: Annotated[Studio, Field(default_factory=Studio)]
    daemon: Annotated[Daemon, Field(default_factory=Daemon)]
    gates: Annotated[tuple[Gate, ...], Strict(False), Field(alias="gate")] = ()

    def gate(self, name: str) -> Gate | None:
        """The gate of that name."""
        return next((gate for gate in self.gates if gate.name == name), None)
