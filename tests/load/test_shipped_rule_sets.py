"""The four sets that tidegate comes with, against the checks that it comes with."""

import re
from pathlib import Path

import pytest

from tidegate import checks
from tidegate.load.rule_folder import rule_sets, shipped_folder
from tidegate.load.rule_set import read_rule_set
from tidegate.load.toml_file import read_toml
from tidegate.model.check import Limit
from tidegate.model.set_settings import SETTINGS

NAMES = ("building_part", "first_look", "furniture", "handheld")
every = pytest.mark.parametrize("name", NAMES)


def test_these_are_they():
    assert (shipped_folder() / "names.toml").is_file(), "the names scheme lies beside them and is no rule set"
    assert dict(rule_sets()) == {name: shipped_folder() / f"{name}.toml" for name in NAMES}


@every
def test_each_loads(name: str):
    rule_set = read_rule_set(name)
    assert rule_set.name == name
    assert rule_set.title.replace(" ", "_").lower() == name
    assert re.fullmatch(r"[0-9a-f]{64}", rule_set.sha256)


def test_they_differ():
    assert len({read_rule_set(name).sha256 for name in NAMES}) == len(NAMES)


def stated_limits(name: str) -> list[tuple[Limit, Path, int]]:
    """Every limit and setting that a file states, with its line."""
    toml = read_toml(shipped_folder() / f"{name}.toml")
    found = [
        (limit, Path(toml.path), toml.line_of("rule", number, limit.name))
        for number, rule in enumerate(toml.values["rule"])
        for limit in checks.get(rule["check"]).limits
        if limit.name in rule
    ]
    stated = toml.values.get("settings", {})
    return found + [
        (one, Path(toml.path), toml.line_of("settings", one.name)) for one in SETTINGS if one.name in stated
    ]


@every
def test_every_limit_has_a_comment_above_it_that_names_its_unit(name: str):
    for limit, path, line in stated_limits(name):
        lines = path.read_text(encoding="utf-8").splitlines()
        first = line - 1
        while lines[first - 1].startswith("#"):
            first -= 1
        comment = " ".join(text.removeprefix("# ") for text in lines[first : line - 1])
        assert len(comment.split()) >= 3, f"{path.name}:{line}: `{limit.name}` has no comment"
        if limit.unit:
            assert comment.startswith(f"{limit.unit}: "), f"{path.name}:{line}: the comment does not name {limit.unit}"


@every
def test_matters_of_taste_are_marked_as_such(name: str):
    """A number that no standard states says so; it must not pass for one that does."""
    for limit, path, line in stated_limits(name):
        if "common practice" not in limit.explanation:
            continue
        lines = path.read_text(encoding="utf-8").splitlines()
        if lines[line - 1].endswith(("[]", '"off"', "false")):
            continue  # nothing is wanted, so there is no number to mark
        above = " ".join(lines[max(0, line - 4) : line - 1])
        assert "common practice, no source" in above, f"{path.name}:{line}"


def test_a_first_look_names_every_check_and_states_every_limit():
    """So that whoever opens one file sees all there is; a new check is not forgotten in the sets."""
    toml = read_toml(shipped_folder() / "first_look.toml")
    rules = {rule["check"]: rule for rule in toml.values["rule"]}
    missing = set(checks.names()) - set(rules)
    assert not missing, f"add a [[rule]] to rules/first_look.toml for {sorted(missing)}"
    for name, rule in rules.items():
        left_out = {limit.name for limit in checks.get(name).limits} - set(rule)
        assert not left_out, f"rules/first_look.toml: {name} does not state {sorted(left_out)}"


@pytest.mark.parametrize(("name", "wanted"), [("handheld", 1024), ("furniture", 512), ("building_part", 256)])
def test_densities(name: str, wanted: int):
    (rule,) = (rule for rule in read_rule_set(name).rules if rule.check == "texel-density-out-of-range")
    assert (rule.level, rule.limits["wanted"], rule.limits["tolerance"]) == ("error", wanted, 0.25)


def test_a_first_look_is_lenient():
    """Errors are only what is broken whatever the prop is for."""
    errors = {rule.check for rule in read_rule_set("first_look").rules if rule.level == "error"}
    assert errors == {"unreadable-file", "unreadable-map", "missing-mesh", "missing-texture-file", "doubtful-mesh-data"}
