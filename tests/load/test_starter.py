"""What `tidegate new` writes reads back as right, and shows every key with its true default."""

import re
from pathlib import Path

import pytest

from tidegate.load.configuration import read_configuration
from tidegate.load.rule_set import read_rule_set
from tidegate.load.starter import starter_configuration, starter_rule_set
from tidegate.load.toml_file import parse_toml
from tidegate.model.settings import Archives, Configuration, Daemon, Gate, Limits, Studio


def uncommented(text: str) -> str:
    """The file with every key that is commented out switched on."""
    return re.sub(r"^# ([a-z_]+ = )", r"\1", text, flags=re.MULTILINE)


def test_it_reads_back(tmp_path: Path):
    path = tmp_path / "tidegate.toml"
    path.write_text(starter_configuration(), encoding="utf-8")
    (gate,) = read_configuration(path).gates
    assert (gate.name, gate.rule_set, gate.inbox) == ("props", "first_look", tmp_path / "inbox")


def test_with_everything_of_its_own(tmp_path: Path):
    (tmp_path / "rules").mkdir()
    (tmp_path / "rules" / "own.toml").write_text(starter_rule_set("Own"), encoding="utf-8")
    for name in ("names.toml", "orders.csv"):
        (tmp_path / name).write_text("")
    path = tmp_path / "tidegate.toml"
    path.write_text(
        starter_configuration(
            gate="north", rule_set="own", names="names.toml", rule_folder="rules", order_list="orders.csv"
        ),
        encoding="utf-8",
    )
    configuration = read_configuration(path)
    assert configuration.studio.names == tmp_path / "names.toml"
    assert configuration.studio.rule_folders == (tmp_path / "rules",)
    assert configuration.gates[0].order_list == tmp_path / "orders.csv"


def test_keys_switched_on_change_nothing_but_the_examples(tmp_path: Path):
    plain = starter_configuration()
    toml = parse_toml(uncommented(plain), "tidegate.toml")
    full = Configuration.model_validate(toml.values, context={"folder": str(tmp_path)})
    short = Configuration.model_validate(parse_toml(plain, "t").values, context={"folder": str(tmp_path)})
    examples = {
        "studio": {"names", "rule_folders", "library_folders"},
        "gate": {"rule_set_by_category", "order_list", "ready_file"},
    }
    assert full.daemon == short.daemon
    assert full.studio.model_dump(exclude=examples["studio"]) == short.studio.model_dump(exclude=examples["studio"])
    assert full.gates[0].model_dump(exclude=examples["gate"]) == short.gates[0].model_dump(exclude=examples["gate"])


@pytest.mark.parametrize(
    ("model", "table"),
    [
        (Studio, ("studio",)),
        (Daemon, ("daemon",)),
        (Gate, ("gate", 0)),
        (Limits, ("gate", 0, "limits")),
        (Archives, ("gate", 0, "archives")),
    ],
)
def test_every_key_is_in_it_under_a_comment_of_its_own(model, table):
    text = uncommented(starter_configuration())
    lines = text.splitlines()
    toml = parse_toml(text, "tidegate.toml")
    for key, field in model.model_fields.items():
        assert (*table, key) in toml.lines, f"{key} is not in the starter"
        above = lines[toml.line_of(*table, key) - 2]
        assert above.startswith("# "), f"{key} has no comment"
        if key not in ("limits", "archives"):
            assert field.description, f"{key} has no explanation"
            assert above[2:] in " ".join(field.description.split())


def test_no_line_is_wider_than_a_window():
    assert max(map(len, starter_configuration().splitlines())) <= 120


@pytest.mark.parametrize("start", ["first_look", "furniture"])
def test_the_rule_set_to_edit_judges_as_the_one_it_starts_from(tmp_path: Path, start: str):
    path = tmp_path / "own.toml"
    path.write_text(starter_rule_set('The "best" props', start), encoding="utf-8")
    own = read_rule_set(path)
    assert own.title == 'The "best" props'
    assert own.sha256 == read_rule_set(start).sha256


def test_its_examples_are_right_when_switched_on(tmp_path: Path):
    path = tmp_path / "own.toml"
    lines = starter_rule_set("Own").splitlines()
    at = lines.index("# [[rule]]")
    kept = [
        line.removeprefix("# ")
        if line.startswith(("# [[", "# check", "# level", "# wanted", "# tol", "# for", "# most"))
        else line
        for line in lines
    ]
    assert at > 0
    path.write_text("\n".join(kept), encoding="utf-8")
    rules = {(rule.check, rule.scope.role): rule for rule in read_rule_set(path).rules}
    assert rules["texel-density-out-of-range", ()].limits["wanted"] == 512
    assert rules["triangles-over-budget", ("lod*",)].limits["most"] == 4000
