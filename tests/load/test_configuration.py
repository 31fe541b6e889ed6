"""tidegate.toml: what is right reads as written, what is wrong names file, line and the right word."""

import pickle
from collections.abc import Callable
from pathlib import Path

import pytest

from tidegate.errors import ConfigurationFault
from tidegate.gate.archive_limits import ArchiveLimits
from tidegate.gate.settings import GateRules
from tidegate.load.configuration import read_configuration
from tidegate.model.settings import Configuration

GATE = """\
[[gate]]
name = "north"
inbox = "inbox"
work = "work"
delivery = "delivery"
returned = "returned"
aside = "aside"
"""


@pytest.fixture
def write(tmp_path: Path) -> Callable[[str], Path]:
    def write_(text: str) -> Path:
        path = tmp_path / "tidegate.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write_


@pytest.fixture
def faults(write) -> Callable[[str], list[tuple[int, str, str]]]:
    def faults_(text: str) -> list[tuple[int, str, str]]:
        path = write(text)
        with pytest.raises(ConfigurationFault) as caught:
            read_configuration(path)
        found = (caught.value, *caught.value.others)
        assert {one.path for one in found} == {str(path)}
        return [(one.line, one.what, one.help) for one in found]

    return faults_


class TestRight:
    def test_the_shortest_gate_has_every_default(self, write, tmp_path: Path):
        (gate,) = read_configuration(write(GATE)).gates
        assert (gate.name, gate.owner, gate.rule_set, gate.rule_set_by_category) == ("north", "north", "", {})
        assert gate.folders == {
            key: tmp_path / key for key in ("inbox", "work", "delivery", "returned", "aside", "kept")
        }
        assert (gate.unit, gate.up_axis, gate.watch, gate.place) == (1.0, "y", "auto", ("category",))

    def test_an_empty_file_is_what_holds_without_one(self, write):
        assert read_configuration(write("")) == Configuration()

    def test_defaults_are_those_of_the_gate_itself(self):
        """Two layers that may not import each other state these; they have to be one."""
        configuration = Configuration.model_validate(
            {"gate": [dict.fromkeys(("inbox", "work", "delivery", "returned", "aside"), "x") | {"name": "north"}]}
        )
        (gate,) = configuration.gates
        rules, archives = GateRules(), ArchiveLimits()
        assert (gate.quiet_seconds, gate.wait_for_textures_seconds) == (rules.quiet, rules.wait)
        assert gate.ready_file == rules.ready_file
        assert configuration.studio.partial_names == rules.partial
        assert configuration.studio.litter_names == rules.litter
        assert configuration.daemon.first_pause_seconds == rules.first_pause
        assert configuration.daemon.longest_pause_seconds == rules.longest_pause
        own = gate.archives
        assert (own.unpacked_mb << 20, own.ratio, own.files, own.depth) == (
            archives.bytes,
            archives.ratio,
            archives.files,
            archives.depth,
        )

    def test_paths_count_from_the_folder_of_the_file_not_from_here(self, write, tmp_path: Path, monkeypatch):
        path = write(GATE.replace('"work"', '"../elsewhere/work"').replace('"aside"', '"/srv/aside"'))
        monkeypatch.chdir("/")
        (gate,) = read_configuration(path).gates
        assert gate.work == tmp_path.parent / "elsewhere" / "work"
        assert gate.aside == Path("/srv/aside")

    @pytest.mark.parametrize(
        ("unit", "metres"),
        # The inch is 25.4 mm and the foot 0.3048 m exactly (international yard and pound agreement, 1959).
        [('"m"', 1), ('"cm"', 0.01), ('"mm"', 0.001), ('"in"', 0.0254), ('"ft"', 0.3048), ("0.5", 0.5), ("2", 2)],
    )
    def test_units(self, write, unit: str, metres: float):
        (gate,) = read_configuration(write(GATE + f"unit = {unit}\n")).gates
        assert gate.unit == metres

    def test_rule_sets_by_name_stay_names_and_by_path_become_absolute(self, write, tmp_path: Path):
        (tmp_path / "own").mkdir()
        (tmp_path / "own" / "ropes.toml").write_text("")
        text = GATE + 'rule_set = "own/ropes.toml"\nrule_set_by_category = { tool = "handheld", rope = "ropes" }\n'
        (gate,) = read_configuration(write('[studio]\nrule_folders = ["own"]\n' + text)).gates
        assert gate.rule_set == str(tmp_path / "own" / "ropes.toml")
        assert gate.rule_set_by_category == {"tool": "handheld", "rope": "ropes"}

    def test_gates_may_share_their_trees(self, write):
        second = GATE.replace("north", "south").replace('"inbox"', '"inbox2"').replace('"work"', '"work2"')
        configuration = read_configuration(write(GATE + second))
        assert [gate.name for gate in configuration.gates] == ["north", "south"]
        assert configuration.gate("south") is configuration.gates[1]
        assert configuration.gate("east") is None

    def test_it_travels_to_another_process(self, write):
        configuration = read_configuration(write(GATE))
        assert pickle.loads(pickle.dumps(configuration)) == configuration


class TestWrongKeysAndValues:
    @pytest.mark.parametrize(
        ("line", "what", "help"),
        [
            ("inbocks = 'x'", "unknown key `inbocks`", "did you mean `inbox`?"),
            ("quiet_second = 3", "unknown key `quiet_second`", "did you mean `quiet_seconds`?"),
            ("quiet_seconds = '5'", "`quiet_seconds` takes a number", ""),
            ("quiet_seconds = true", "`quiet_seconds` takes a number", ""),
            ("quiet_seconds = -0.1", "`quiet_seconds` is out of bounds", ""),
            ("quiet_seconds = 604801", "`quiet_seconds` is out of bounds", ""),
            ("quiet_seconds = nan", "`quiet_seconds` takes a number", ""),
            ("scan_seconds = 0.09", "`scan_seconds` is out of bounds", ""),
            ("order_list = 3", "`order_list` takes a path", ""),
            ("order_list = ''", "`order_list` takes a path", ""),
            ("kept = '~/kept'", "`kept` is not spelled out", "write the home folder in full"),
            ('kept = "a\\u0000b"', "`kept` takes a path", ""),
            ("rule_set = 3", "`rule_set` takes a text", ""),
            ("rule_set_by_category = 'x'", "`rule_set_by_category` takes a table", ""),
            ("rule_set_by_category = { tool = 3 }", "`tool` takes a text", ""),
            ("watch = 'pol'", '`watch` does not know "pol"', "did you mean `poll`?"),
            ("watch = 3", "`watch` takes a text", ""),
            ("up_axis = 'x'", '`up_axis` does not know "x"', "known here: `y`, `z`"),
            ("unit = 'cmm'", '`unit` does not know the unit "cmm"', "did you mean `cm`?"),
            ("unit = 0", "`unit` is no unit", ""),
            ("unit = true", "`unit` is no unit", ""),
            ("place = 'category'", "`place` takes a list", ""),
            ("place = ['{category}']", "`place` is no name field", ""),
            ("place = ['..']", "`place` is no name field", ""),
            (
                "pictures = ['heat_map']",
                '`pictures` does not know "heat_map"',
                "known here: `cut_out`, `density_map`, `fault_sheet`, `guide_sheet`, `stretch_map`",
            ),
            ("pictures = ['fault_shet']", '`pictures` does not know "fault_shet"', "did you mean `fault_sheet`?"),
            ("ready_file = '../ready'", "`ready_file` is no file name", ""),
            ("owner = ''", "`owner` is out of bounds", ""),
            ("limits = 3", "`limits` takes a table", ""),
            ("limits.memory_mb = 127", "`memory_mb` is out of bounds", ""),
            ("limits.memory = 512", "unknown key `memory`", "did you mean `memory_mb`?"),
            ("archives.ratio = 0.9", "`ratio` is out of bounds", ""),
        ],
    )
    def test_each_names_its_line(self, faults, line: str, what: str, help: str):
        assert faults(GATE + line + "\n") == [(8, what, help)]

    @pytest.mark.parametrize(
        "line",
        [
            "quiet_seconds = 0",
            "quiet_seconds = 604800",
            "scan_seconds = 0.1",
            "limits.memory_mb = 128",
            "archives.ratio = 1",
            "place = []",
            "pictures = []",
            "unit = 1000000",
        ],
    )
    def test_the_near_side_of_each_bound(self, write, line: str):
        assert read_configuration(write(GATE + line + "\n")).gates

    def test_the_tables_around_the_gates(self, faults):
        text = """[studo]
[studio]
nams = "x"
rule_folders = "rules"
partial_names = ["*"]
litter_names = ["a/b"]
[daemon]
workers = -1
[daemn]
"""
        assert faults(text) == [
            (1, "unknown key `studo`", "did you mean `studio`?"),
            (3, "unknown key `nams`", "did you mean `names`?"),
            (4, "`rule_folders` takes a list", ""),
            (5, "`partial_names` is no name pattern", ""),
            (6, "`litter_names` is no name pattern", ""),
            (8, "`workers` is out of bounds", ""),
            (9, "unknown key `daemn`", "did you mean `daemon`?"),
        ]

    def test_a_missing_key_says_what_it_is_for(self, faults):
        assert faults(GATE.replace('inbox = "inbox"\n', "")) == [
            (1, "`inbox` is missing", "Where artists drop their exports.")
        ]

    def test_a_gate_written_as_a_plain_table(self, faults):
        assert faults("[gate]\nname = 'north'\n") == [(1, "`gate` takes a list", "")]

    def test_pauses_that_shrink(self, faults):
        (fault,) = faults("[daemon]\nfirst_pause_seconds = 5\nlongest_pause_seconds = 4\n")
        assert fault[:2] == (1, "`daemon` has a first pause longer than the longest")

    def test_faults_of_the_second_gate_are_told_of_that_gate(self, faults):
        assert faults(GATE + GATE.replace("north", "south") + "watch = 'never'\n")[0][0] == 15

    def test_every_truncation_gives_a_fault_or_a_configuration(self, write):
        for length in range(len(GATE) - 1):
            try:
                read_configuration(write(GATE[:length]))
            except ConfigurationFault as fault:
                assert fault.what
            else:
                assert "[" not in GATE[:length], "a gate without its folders passed"


class TestThingsInEachOthersWay:
    @pytest.mark.parametrize(
        ("old", "new", "line", "keys"),
        [
            ('"work"', '"inbox"', 4, ("work", "inbox")),
            ('"work"', '"inbox/work"', 4, ("work", "inbox")),
            ('"inbox"', '"work/inbox"', 4, ("work", "inbox")),
            ('"returned"', '"inbox/back"', 6, ("returned", "inbox")),
            ('"returned"', '"delivery/back"', 6, ("returned", "delivery")),
            ('"aside"', '"returned"', 7, ("aside", "returned")),
            ('"work"', '"Inbox"', 4, ("work", "inbox")),
            ('"work"', '"x/../inbox"', 4, ("work", "inbox")),
        ],
    )
    def test_folders_of_one_gate(self, faults, old: str, new: str, line: int, keys: tuple[str, str]):
        (fault,) = faults(GATE.replace(old, new))
        assert fault[0] == line
        assert fault[1].startswith(f"`{keys[0]}` of gate `north` and `{keys[1]}` of gate `north`")

    def test_a_name_that_only_begins_alike_is_another_folder(self, write):
        assert read_configuration(write(GATE.replace('"work"', '"inbox_work"'))).gates

    def test_a_link_to_the_inbox_is_the_inbox(self, faults, tmp_path: Path):
        (tmp_path / "inbox").mkdir()
        (tmp_path / "work").symlink_to("inbox", target_is_directory=True)
        assert faults(GATE)[0][0] == 4

    @pytest.mark.parametrize(
        ("changes", "line"),
        [
            ({'"work"': '"work2"'}, 10),
            ({'"inbox"': '"inbox2"'}, 11),
            ({'"inbox"': '"delivery/in"', '"work"': '"work2"'}, 10),
            ({'"inbox"': '"inbox2"', '"work"': '"work2"', '"returned"': '"delivery"'}, 13),
            ({'"inbox"': '"inbox2"', '"work"': '"work2"', '"delivery"': '"delivery/south"'}, 12),
        ],
    )
    def test_folders_of_two_gates(self, faults, changes: dict[str, str], line: int):
        second = GATE.replace("north", "south")
        for old, new in changes.items():
            second = second.replace(old, new)
        found = faults(GATE + second)
        assert line in {at for at, _, _ in found}
        assert all("gate `south`" in what for _, what, _ in found)

    def test_two_gates_of_one_name(self, faults):
        second = GATE.replace('"inbox"', '"inbox2"').replace('"work"', '"work2"')
        assert faults(GATE + second) == [(9, "there are two gates named `north`", "")]

    @pytest.mark.parametrize(
        ("text", "line", "key"),
        [
            ("[studio]\nnames = 'inbox/names.toml'\n" + GATE, 2, "names"),
            ("[studio]\nrule_folders = ['rules', 'inbox']\n" + GATE, 2, "rule_folders"),
            (GATE + "order_list = 'inbox/orders.csv'\n", 8, "order_list"),
            (GATE + "rule_set = 'inbox/own.toml'\n", 8, "rule_set"),
        ],
    )
    def test_a_drop_cannot_bring_what_it_is_judged_by(self, faults, tmp_path: Path, text: str, line: int, key: str):
        (tmp_path / "inbox").mkdir()
        for name in ("names.toml", "orders.csv", "own.toml"):
            (tmp_path / "inbox" / name).write_text("")
        assert faults(text) == [
            (line, f"`{key}` lies in an inbox", "whoever drops files there could change how they are judged")
        ]

    def test_nor_the_configuration_itself(self, faults, tmp_path: Path):
        found = faults(GATE.replace('"inbox"', '"."'))
        assert "the configuration lies in an inbox" in [what for _, what, _ in found]

    @pytest.mark.parametrize(
        ("line", "what", "help"),
        [
            ("rule_set = 'furnitur'", "there is no rule set named `furnitur`", "did you mean `furniture`?"),
            (
                "rule_set_by_category.tool = 'handhold'",
                "there is no rule set named `handhold`",
                "did you mean `handheld`?",
            ),
            ("rule_set = 'own/none.toml'", "there is no such rule set file", "check the path"),
            (
                "order_list = 'orders.csv'",
                "the file of `order_list` is not there",
                "relative paths count from the folder of the configuration; mend the path, or take the key out",
            ),
        ],
    )
    def test_files_that_are_named_have_to_be_there(self, faults, line: str, what: str, help: str):
        assert faults(GATE + line + "\n") == [(8, what, help)]

    def test_a_folder_is_no_file(self, faults, tmp_path: Path):
        (tmp_path / "orders.csv").mkdir()
        assert [what for _, what, _ in faults(GATE + "order_list = 'orders.csv'\n")] == [
            "`order_list` names no regular file"
        ]
