"""Rule sets from TOML, against a small registry of stand-ins, so that no real check decides what these tests say."""

import hashlib
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.errors import AskedWrongly, ConfigurationFault
from tidegate.load.rule_folder import find_rule_set, rule_sets, shipped_folder
from tidegate.load.rule_set import read_rule_set
from tidegate.model.check import Check, Limit, Scope
from tidegate.model.rule_set import Rule, RuleSet

KNOTS = Check(
    name="loose-knots",
    group="mesh",
    stage=40,
    needs=frozenset({"meshes"}),
    looks_at="",
    why="",
    put_right="",
    blind_spots="",
    level="warning",
    limits=(
        Limit("most", "integer", 3, unit="knots", low=0, high=10),
        Limit("tension", "number", None, unit="N", low=0.5),
        Limit("span", "range", [1, 2], unit="m", low=0),
        Limit("rope", "choice", "hemp", choices=("hemp", "sisal", "wire")),
        Limit("wet", "boolean", False),
        Limit("colours", "texts", ["red"]),
        Limit("steps", "numbers", [1, 0.5], unit="m", low=0),
        Limit("per_rope", "table", {}),
        Limit("note", "text", ""),
    ),
    scope=frozenset({"role", "material", "tile"}),
)
LEAK = Check("leaky-hull", "mesh", 10, frozenset({"files"}), "", "", "", "")
UNREADABLE = Check("unreadable-file", "files and names", 10, frozenset({"files"}), "", "", "", "")


class Stand:
    """A registry of the checks above."""

    def __init__(self, *found: Check) -> None:
        self._found = {check.name: check for check in found}

    def names(self) -> tuple[str, ...]:
        return tuple(sorted(self._found))

    def get(self, name: str) -> Check:
        return self._found[name]


STAND = Stand(KNOTS, LEAK, UNREADABLE)
KNOT_RULE = '[[rule]]\ncheck = "loose-knots"\n'


@pytest.fixture
def read(tmp_path: Path) -> Callable[..., RuleSet]:
    def read_(text: str, **others: str) -> RuleSet:
        for name, content in {"own": text, **others}.items():
            (tmp_path / f"{name}.toml").write_text(content, encoding="utf-8")
        return read_rule_set("own", [tmp_path], STAND)

    return read_


def faults_of(caught: pytest.ExceptionInfo[ConfigurationFault]) -> list[tuple[str, int, str, str]]:
    """(file name, line, what, help) of every fault of one reading."""
    first = caught.value
    return [(Path(one.path).name, one.line, one.what, one.help) for one in (first, *first.others)]


def rule(rule_set: RuleSet, check: str = "loose-knots", scope: Scope | None = None) -> Rule:
    found = [one for one in rule_set.rules if one.check == check and (scope is None or one.scope == scope)]
    assert len(found) == 1
    return found[0]


class TestOneFile:
    def test_defaults_are_filled_in_and_each_limit_knows_its_line(self, read):
        found = read('title = "Ropes"\n\n[[rule]]\ncheck = "loose-knots"\nlevel = "note"\nmost = 5\n')
        assert (found.name, found.title) == ("own", "Ropes")
        one = rule(found)
        assert one.level == "note"
        assert one.limits == {
            "most": 5,
            "tension": None,
            "span": (1.0, 2.0),
            "rope": "hemp",
            "wet": False,
            "colours": ("red",),
            "steps": (1.0, 0.5),
            "per_rope": {},
            "note": "",
        }
        assert one.set_by["most"] == "own.toml:6"
        assert one.set_by["rope"] == "default of the check"
        assert set(one.set_by) == set(one.limits)
        assert one.source == "own.toml:3"

    def test_without_a_level_the_check_says_it(self, read):
        assert rule(read(KNOT_RULE)).level == "warning"

    def test_rules_stand_fix_first_whatever_the_file_says(self, read):
        found = read(KNOT_RULE + '[[rule]]\ncheck = "leaky-hull"\n')
        assert [one.check for one in found.rules] == ["leaky-hull", "unreadable-file", "loose-knots"]

    def test_an_exception_is_the_general_rule_off_and_one_for_all_others(self, read):
        found = read(KNOT_RULE + 'level = "off"\n' + KNOT_RULE + 'for = { material = "!decal_*" }\nmost = 7\n')
        knots = [one for one in found.rules if one.check == "loose-knots"]
        assert [(one.scope, one.limits["most"]) for one in knots] == [(Scope(material=("!decal_*",)), 7)]
        assert [knots[0].scope.takes(material=name) for name in ("oak", "decal_7")] == [True, False]

    def test_rules_for_other_parts_stand_side_by_side(self, read):
        found = read(
            KNOT_RULE
            + KNOT_RULE
            + 'for = { role = "lod*" }\nmost = 7\n'
            + KNOT_RULE
            + "for = { material = ['b', 'a'], tile = [1002, 1001] }\n"
        )
        knots = [one for one in found.rules if one.check == "loose-knots"]
        assert len(knots) == 3
        assert rule(found, scope=Scope()).limits["most"] == 3
        assert rule(found, scope=Scope(role=("lod*",))).limits["most"] == 7
        assert rule(found, scope=Scope(material=("a", "b"), tile=("1001", "1002"))).limits["most"] == 3

    def test_settings_are_the_sets_own_or_the_default(self, read):
        found = read("[settings]\nassumed_map_px = 512\n" + KNOT_RULE)
        assert found.settings["assumed_map_px"] == 512
        assert found.settings_set_by["assumed_map_px"] == "own.toml:2"
        assert found.settings["driving_slots"][0] == "base_color"
        assert found.settings_set_by["driving_slots"] == "default"

    def test_what_cannot_be_read_is_judged_by_every_set(self, read):
        assert rule(read(KNOT_RULE), "unreadable-file").level == "error"

    @pytest.mark.parametrize("level", ["off", "note", "warning"])
    def test_what_cannot_be_read_cannot_be_waved_through(self, read, level: str):
        with pytest.raises(ConfigurationFault, match="stays at error level"):
            read(KNOT_RULE + f'[[rule]]\ncheck = "unreadable-file"\nlevel = "{level}"\n')

    @pytest.mark.parametrize("text", ["", "title = 'x'\n", KNOT_RULE + 'level = "off"\n', "rule = []\n"])
    def test_a_set_that_judges_nothing_is_a_fault(self, read, text: str):
        with pytest.raises(ConfigurationFault, match="judges nothing"):
            read(text)


class TestFaults:
    @pytest.mark.parametrize(
        ("line", "words", "help"),
        [
            ("mots = 3", "`loose-knots` has no limit `mots`", "did you mean `most`?"),
            ("Most = 3", "`loose-knots` has no limit `Most`", "did you mean `most`?"),
            ("levle = 'note'", "has no limit `levle`", "did you mean `level`?"),
            ("level = 'eror'", "`level` does not know", "did you mean `error`?"),
            ("level = 3", "`level` does not know 3", ""),
            ("most = 2.0", "`most` takes a whole number", ""),
            ("most = true", "`most` takes a whole number", ""),
            ("most = 'off'", "`most` takes a whole number", ""),
            ("most = 11", "`most` is out of bounds", ""),
            ("most = -1", "`most` is out of bounds", ""),
            ("tension = 0.49", "`tension` is out of bounds", ""),
            ("tension = nan", "`tension` takes a number", ""),
            ("tension = inf", "`tension` takes a number", ""),
            ("tension = '3'", "`tension` takes a number", ""),
            (f"tension = 1{'0' * 400}", "`tension` takes a number", ""),
            ("span = [2, 1]", "`span` is a range turned round", "write [1, 2]"),
            ("span = [1]", "`span` takes a range", ""),
            ("span = [-1, 1]", "`span` is out of bounds", ""),
            ("rope = 'sisall'", "`rope` does not know", "did you mean `sisal`?"),
            ("rope = ['wire']", "`rope` takes one of", ""),
            ("wet = 1", "`wet` takes true or false", ""),
            ("colours = 'red'", "`colours` takes a list of texts", ""),
            ("colours = [1]", "`colours` takes a list of texts", ""),
            ("steps = [1, 'x']", "`steps` takes a list of numbers", ""),
            ("steps = [1, -2]", "`steps` is out of bounds", ""),
            ("per_rope = [1]", "`per_rope` takes a table", ""),
            ("per_rope = { a = [] }", "`per_rope` takes a table", ""),
            ("note = 1979-05-27", "`note` takes a text", ""),
            ("for = 'model'", "`for` is not a table", ""),
            ("for = { rolle = 'x' }", "unknown key `rolle` in `for`", "did you mean `role`?"),
            ("for = { slot = 'x' }", "cannot be limited by `slot`", "it can by `material`, `role`, `tile`"),
            ("for = { role = [] }", "takes a list of name patterns", ""),
            ("for = { role = '' }", "takes a list of name patterns", ""),
            ("for = { role = 3 }", "takes a list of name patterns", ""),
            ("for = { tile = true }", "takes a list of name patterns", ""),
        ],
    )
    def test_each_names_file_line_and_the_right_word(self, read, line: str, words: str, help: str):
        with pytest.raises(ConfigurationFault) as caught:
            read("\n" + KNOT_RULE + line + "\n")
        ((file, at, what, hint),) = faults_of(caught)
        assert (file, at) == ("own.toml", 4)
        assert words in what
        assert hint == help or (help == "" and not hint.startswith("did you mean")) or hint.startswith("write for")

    def test_a_check_of_the_whole_prop_takes_no_part(self, read):
        with pytest.raises(ConfigurationFault) as caught:
            read('[[rule]]\ncheck = "leaky-hull"\nfor = { role = "lod1" }\n')
        assert faults_of(caught) == [("own.toml", 3, "`leaky-hull` cannot be limited by `role`", "leave `for` out")]

    @pytest.mark.parametrize(
        "line",
        [
            "most = 0",
            "most = 10",
            "tension = 0.5",
            "tension = 'off'",
            "span = [1, 1]",
            "span = [0, 9]",
            "rope = 'wire'",
            "colours = []",
            "steps = [0]",
            "per_rope = { a = 1, b = 'x' }",
            "for = { tile = 1001 }",
            "for = {}",
        ],
    )
    def test_the_near_side_of_each_limit_is_taken(self, read, line: str):
        assert rule(read(KNOT_RULE + line + "\n")).check == "loose-knots"

    def test_all_faults_of_a_file_come_at_once_in_the_order_of_their_lines(self, read):
        text = """titel = "x"
starts_from = 3
[settings]
assumed_map = 512
driving_slots = "base_color"
[[rule]]
check = "loose-knotts"
most = "not looked at"
[[rule]]
most = 4
[[rule]]
check = "loose-knots"
most = 99
wett = true
[[rule]]
check = "loose-knots"
"""
        with pytest.raises(ConfigurationFault) as caught:
            read(text)
        found = faults_of(caught)
        assert [(line, help) for _, line, _, help in found] == [
            (1, "did you mean `title`?"),
            (2, ""),
            (4, "did you mean `assumed_map_px`?"),
            (5, ""),
            (7, "did you mean `loose-knots`?"),
            (9, 'write check = "name-of-a-check"'),
            (13, ""),
            (14, "did you mean `wet`?"),
            (15, "join the two, or give one of them another `for`"),
        ]
        said = str(caught.value)
        assert all(f"own.toml:{line}: " in said for _, line, _, _ in found)

    @pytest.mark.parametrize(
        ("text", "words"),
        [("rule = 3\n", "not a list of rules"), ("rule = [3]\n", "not a list"), ("[rule]\nx = 1\n", "not a list")],
    )
    def test_a_rule_table_of_the_wrong_form(self, read, text: str, words: str):
        with pytest.raises(ConfigurationFault, match=words):
            read(text)

    def test_settings_of_the_wrong_form(self, read):
        with pytest.raises(ConfigurationFault, match="`settings` is not a table"):
            read("settings = 3\n" + KNOT_RULE)

    def test_a_truncated_file_gives_a_fault_or_a_shorter_set_and_never_a_traceback(self, tmp_path: Path):
        text = 'title = "x"\n[[rule]]\ncheck = "loose-knots"\nspan = [1, 2]\nfor = { role = "lod*" }\n'
        whole = read_rule_set(_write(tmp_path / "whole.toml", text), (), STAND)
        for length in range(len(text) - 1):
            file = _write(tmp_path / "cut.toml", text[:length])
            try:
                cut = read_rule_set(file, (), STAND)
            except ConfigurationFault as fault:
                assert fault.path == str(file)
            else:
                assert cut.sha256 != whole.sha256


def _write(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8")
    return path


class TestStartsFrom:
    BASE = KNOT_RULE + 'level = "error"\nmost = 5\nrope = "wire"\ntension = 3\n'

    def test_given_limits_change_and_the_others_are_inherited(self, read):
        found = read('starts_from = "base"\n' + KNOT_RULE + "most = 6\n", base=self.BASE)
        one = rule(found)
        assert (one.level, one.limits["most"], one.limits["rope"], one.limits["tension"]) == ("error", 6, "wire", 3.0)
        assert one.set_by["most"] == "own.toml:4"
        assert one.set_by["rope"] == "base.toml:5"
        assert [Path(file).name for file in found.files] == ["own.toml", "base.toml"]

    def test_a_level_alone_can_change(self, read):
        one = rule(read('starts_from = "base"\n' + KNOT_RULE + 'level = "note"\n', base=self.BASE))
        assert (one.level, one.limits["most"]) == ("note", 5)

    def test_an_inherited_limit_can_be_switched_off(self, read):
        one = rule(read('starts_from = "base"\n' + KNOT_RULE + 'tension = "off"\n', base=self.BASE))
        assert one.limits["tension"] is None
        assert one.set_by["tension"] == "own.toml:4"

    def test_another_part_is_a_rule_of_its_own_with_the_checks_defaults(self, read):
        found = read('starts_from = "base"\n' + KNOT_RULE + 'for = { role = "lod1" }\n', base=self.BASE)
        assert rule(found, scope=Scope()).limits["most"] == 5
        assert rule(found, scope=Scope(role=("lod1",))).limits["most"] == 3

    def test_patterns_in_another_order_are_the_same_part(self, read):
        base = KNOT_RULE + 'for = { role = ["a", "b"] }\nmost = 5\n'
        found = read('starts_from = "base"\n' + KNOT_RULE + 'for = { role = ["b", "a"] }\nmost = 6\n', base=base)
        assert rule(found).limits["most"] == 6

    def test_off_takes_a_rule_out_and_a_later_set_brings_it_back_with_its_limits(self, read):
        middle = 'starts_from = "base"\n' + KNOT_RULE + 'level = "off"\n[[rule]]\ncheck = "leaky-hull"\n'
        found = read('starts_from = "middle"\ntitle = "t"\n', middle=middle, base=self.BASE)
        assert [one.check for one in found.rules] == ["leaky-hull", "unreadable-file"]
        again = 'starts_from = "middle"\n' + KNOT_RULE + 'level = "note"\n'
        one = rule(read(again, middle=middle, base=self.BASE))
        assert (one.level, one.limits["most"]) == ("note", 5)

    def test_settings_and_title_are_inherited_too(self, read):
        base = 'title = "Base"\n[settings]\nassumed_map_px = 256\n' + KNOT_RULE
        found = read('starts_from = "base"\n', base=base)
        assert (found.name, found.title, found.settings["assumed_map_px"]) == ("own", "Base", 256)
        assert found.settings_set_by["assumed_map_px"] == "base.toml:3"

    def test_a_set_can_start_from_the_one_it_hides(self, tmp_path: Path):
        (near := tmp_path / "near").mkdir()
        (far := tmp_path / "far").mkdir()
        _write(near / "ropes.toml", 'starts_from = "ropes"\n' + KNOT_RULE + "most = 6\n")
        _write(far / "ropes.toml", self.BASE)
        found = read_rule_set("ropes", [near, far], STAND)
        assert rule(found).limits["most"] == 6
        assert rule(found).limits["rope"] == "wire"
        assert rule(found).set_by["rope"] == "far/ropes.toml:5"

    def test_a_path_is_looked_up_beside_the_file(self, tmp_path: Path):
        (tmp_path / "deep").mkdir()
        _write(tmp_path / "base.toml", self.BASE)
        file = _write(tmp_path / "deep" / "own.toml", 'starts_from = "../base.toml"\n')
        assert rule(read_rule_set(file, (), STAND)).limits["most"] == 5

    @pytest.mark.parametrize(
        "others", [{"a": 'starts_from = "own"\n'}, {"a": 'starts_from = "b"\n', "b": 'starts_from = "a"\n'}]
    )
    def test_a_circle_is_a_fault_with_its_line(self, read, others: dict[str, str]):
        with pytest.raises(ConfigurationFault, match="starts from itself") as caught:
            read('\nstarts_from = "a"\n' + KNOT_RULE, **others)
        assert faults_of(caught)[0][1] == 1

    def test_starting_from_itself_alone_is_a_missing_parent(self, read):
        with pytest.raises(ConfigurationFault, match="not there"):
            read('starts_from = "own"\n' + KNOT_RULE)

    def test_a_missing_parent_names_the_nearest(self, read):
        with pytest.raises(ConfigurationFault) as caught:
            read('starts_from = "bass"\n', base=self.BASE)
        assert faults_of(caught) == [
            (
                "own.toml",
                1,
                "starts from a rule set that is not there: there is no rule set named `bass`",
                "did you mean `base`?",
            )
        ]

    def test_faults_of_all_files_of_the_chain_come_at_once(self, read):
        with pytest.raises(ConfigurationFault) as caught:
            read('starts_from = "base"\nx = 1\n', base=KNOT_RULE + "most = 99\n")
        assert [(file, line) for file, line, _, _ in faults_of(caught)] == [("own.toml", 2), ("base.toml", 3)]


class TestFingerprint:
    def test_it_is_the_sha256_of_canonical_json(self, read):
        found = read('[[rule]]\ncheck = "leaky-hull"\n')
        content = (
            '{"rules":[{"check":"leaky-hull","for":{},"level":"error","limits":{}},'
            '{"check":"unreadable-file","for":{},"level":"error","limits":{}}],'
            '"settings":' + json.dumps(found.settings, sort_keys=True, separators=(",", ":")) + "}"
        )
        assert found.sha256 == hashlib.sha256(content.encode()).hexdigest()

    def test_two_spellings_of_one_set_agree(self, read):
        plain = read(KNOT_RULE + 'tension = 2\ncolours = ["red"]\n[[rule]]\ncheck = "leaky-hull"\n')
        other = read(
            "title = 'Other'\nstarts_from = 'base'\n[[rule]]\ncheck = 'leaky-hull'\nlevel = 'error'\n"
            "[settings]\nassumed_map_px = 2048\n",
            base='[[rule]]\ntension = 2.0\nlevel = "warning"\nmost = 3\ncheck = "loose-knots"\n',
        )
        assert plain.sha256 == other.sha256
        assert [one.check for one in plain.rules] == [one.check for one in other.rules]

    @pytest.mark.parametrize(
        "line", ["most = 4", "level = 'error'", "for = { role = 'x' }", "wet = true", "tension = 1", "colours = []"]
    )
    def test_whatever_decides_a_verdict_changes_it(self, read, line: str):
        assert read(KNOT_RULE).sha256 != read(KNOT_RULE + line + "\n").sha256

    def test_a_setting_changes_it(self, read):
        assert read(KNOT_RULE).sha256 != read("[settings]\nassumed_map_px = 64\n" + KNOT_RULE).sha256

    @settings(max_examples=40, deadline=None)
    @given(
        rows=st.lists(
            st.tuples(st.sampled_from(["", "model", "lod1", "lod2"]), st.integers(0, 10)),
            min_size=1,
            unique_by=lambda row: row[0],
        ),
        mixer=st.randoms(use_true_random=False),
    )
    def test_the_order_of_rules_in_the_file_changes_nothing(self, tmp_path_factory, rows, mixer):
        folder = tmp_path_factory.mktemp("order", numbered=True)
        texts = [
            KNOT_RULE + f"most = {most}\n" + (f'for = {{ role = "{role}" }}\n' if role else "") for role, most in rows
        ]
        one = read_rule_set(_write(folder / "own.toml", "".join(texts)), (), STAND)
        mixer.shuffle(texts)
        two = read_rule_set(_write(folder / "own.toml", "".join(texts)), (), STAND)
        assert one.sha256 == two.sha256
        assert [(r.check, r.scope, r.limits) for r in one.rules] == [(r.check, r.scope, r.limits) for r in two.rules]


class TestFolders:
    def test_an_earlier_folder_hides_a_later_one(self, tmp_path: Path):
        for name, most in (("near", 1), ("far", 2)):
            (tmp_path / name).mkdir()
            _write(tmp_path / name / "ropes.toml", KNOT_RULE + f"most = {most}\n")
        folders = [tmp_path / "near", tmp_path / "far"]
        assert find_rule_set("ropes", folders) == tmp_path / "near" / "ropes.toml"
        assert dict(rule_sets(folders))["ropes"] == tmp_path / "near" / "ropes.toml"
        assert find_rule_set("ropes", folders[::-1]) == tmp_path / "far" / "ropes.toml"

    def test_a_name_is_matched_by_case_and_never_as_a_path(self, tmp_path: Path):
        _write(tmp_path / "ropes.toml", KNOT_RULE)
        for wrong in ("Ropes", "rope", "ropes ", "", "../ropes", "ropes.toml"):
            with pytest.raises(AskedWrongly):
                find_rule_set(wrong, [tmp_path])

    def test_a_folder_that_is_not_there_counts_as_empty(self, tmp_path: Path):
        assert find_rule_set("furniture", [tmp_path / "nowhere"]).parent == shipped_folder()

    def test_an_unknown_name_gets_the_nearest_shipped_one(self):
        with pytest.raises(AskedWrongly) as caught:
            find_rule_set("furnitur")
        assert caught.value.help == "did you mean `furniture`?"

    def test_the_installed_folder_is_found_before_the_one_of_a_checkout(self, tmp_path: Path, monkeypatch):
        from tidegate.load import rule_folder

        package = tmp_path / "pipeline" / "tidegate"
        package.mkdir(parents=True)
        monkeypatch.setattr(rule_folder, "__file__", str(package / "load" / "rule_folder.py"))
        (tmp_path / "rules").mkdir()
        assert shipped_folder() == tmp_path / "rules"
        (package / "_rules").mkdir()
        assert shipped_folder() == package / "_rules"
