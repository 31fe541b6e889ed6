"""Held over the whole folder of checks, so that a new one is tested by being there."""

import json
import re
import subprocess
import sys
from collections import Counter
from dataclasses import fields
from pathlib import Path

import pytest

from tidegate import checks
from tidegate.errors import AskedWrongly
from tidegate.load.rule_set import RULE_KEYS
from tidegate.model.check import GROUPS, Check, Scope
from tidegate.model.facts import NEEDS
from tidegate.model.finding import LEVELS
from tidegate.model.limit_value import KINDS, accepted

STAGES = range(10, 90)
"""10 cannot be read ... 80 what was painted, and the places between them."""

every = pytest.mark.parametrize("name", checks.names())


def test_the_folder_is_the_registry():
    folder = Path(checks.__file__).parent
    files = {path.stem.replace("_", "-") for path in folder.glob("*.py") if not path.name.startswith("_")}
    assert set(checks.names()) == files
    assert list(checks.names()) == sorted(files)
    assert "unreadable-file" in files


def test_listing_imports_no_check_and_getting_one_imports_that_alone():
    code = (
        "import sys, json\n"
        "from tidegate import checks\n"
        "seen = lambda: sorted(m for m in sys.modules if m.startswith('tidegate.checks.'))\n"
        "checks.names(); before = seen(); checks.get('unreadable-file'); print(json.dumps([before, seen()]))\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert json.loads(run.stdout) == [[], ["tidegate.checks.unreadable_file"]]


@pytest.mark.parametrize("wrong", ["unreadable-fil", "unreadable_file", "Unreadable-File"])
def test_an_unknown_name_gets_the_nearest(wrong: str):
    with pytest.raises(AskedWrongly) as caught:
        checks.get(wrong)
    assert wrong in caught.value.what
    assert caught.value.help == "did you mean `unreadable-file`?"


@every
def test_the_file_binds_a_check_of_its_own_name(name: str):
    check = checks.get(name)
    assert isinstance(check, Check)
    assert check.name == name


@every
def test_the_name_is_the_bad_thing_in_plain_words(name: str):
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", name)
    words = set(name.split("-"))
    assert not words & {"no", "not", "valid", "check", "checks", "ok", "correct", "ensure", "disallow", "allow", "fix"}


@every
def test_the_explanation_is_whole(name: str):
    check = checks.get(name)
    texts = {key: getattr(check, key) for key in ("looks_at", "why", "put_right", "blind_spots")}
    for key, text in texts.items():
        assert len(text.split()) >= 4 or (key, text) == ("blind_spots", "nothing known"), (
            f"{key} says too little: {text!r}"
        )
        assert text == text.strip()
    assert len(set(texts.values())) == len(texts)


@every
def test_declarations_are_known_words(name: str):
    check = checks.get(name)
    assert check.needs
    assert check.needs <= set(NEEDS)
    assert check.scope <= {field.name for field in fields(Scope)}
    assert check.level in LEVELS
    assert check.group in GROUPS
    assert check.stage in STAGES
    assert check.run is not Check.__dataclass_fields__["run"].default, "the check has no code"


def test_every_group_holds_some_checks_and_none_is_a_drawer_for_all():
    sizes = Counter(checks.get(name).group for name in checks.names())
    assert set(sizes) == set(GROUPS)
    assert max(sizes.values()) <= 20  # more than a screen of 24 rows shows is no help to whoever looks for one


@every
def test_limits_are_explained_and_their_defaults_pass(name: str):
    check = checks.get(name)
    names = [limit.name for limit in check.limits]
    assert len(set(names)) == len(names)
    for limit in check.limits:
        assert re.fullmatch(r"[a-z][a-z0-9]*(_[a-z0-9]+)*", limit.name)
        assert limit.name not in RULE_KEYS
        assert limit.kind in KINDS
        assert len(limit.explanation.split()) >= 3, f"{limit.name} is not explained"
        if limit.kind in ("number", "integer", "numbers", "range"):
            assert limit.unit, f"{limit.name} has no unit"
        assert bool(limit.choices) or limit.kind != "choice"
        assert limit.low is None or limit.high is None or limit.low <= limit.high
        kept = accepted(limit, limit.default)
        assert accepted(limit, kept) == kept
