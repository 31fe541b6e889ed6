"""A broken edit keeps the last good value and is told once; mending it is told too."""

from pathlib import Path

import pytest

from tidegate.errors import ConfigurationFault
from tidegate.load.last_good import LastGood
from tidegate.load.toml_file import LocatedToml, read_toml


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "a.toml"
    path.write_text("a = 1\n")
    return path


@pytest.fixture
def kept(file: Path) -> LastGood[LocatedToml]:
    return LastGood(lambda: read_toml(file), lambda toml: [toml.path])


def test_nothing_changes_while_the_file_does_not(kept, file):
    value = kept.value
    file.touch()
    assert kept.refresh() is False
    assert kept.value is value


def test_an_edit_is_taken(kept, file):
    file.write_text("a = 2\n")
    assert kept.refresh() is True
    assert (kept.value.values, kept.fault) == ({"a": 2}, None)
    assert kept.refresh() is False


def test_a_broken_edit_keeps_the_last_good_one_and_is_told_once(kept, file):
    file.write_text("a = \n")
    assert kept.refresh() is True
    assert kept.value.values == {"a": 1}
    assert isinstance(kept.fault, ConfigurationFault)
    assert kept.fault.line == 1
    assert kept.refresh() is False
    file.write_text("a = 1\n\nb = \n")
    assert kept.refresh() is True, "another fault is news"
    assert kept.fault.line == 3
    assert kept.value.values == {"a": 1}


@pytest.mark.parametrize("content", ["a = 1\n", "a = 3\n"])
def test_mending_it_is_told_even_when_the_old_value_comes_back(kept, file, content: str):
    file.write_text("a = \n")
    kept.refresh()
    file.write_text(content)
    assert kept.refresh() is True
    assert kept.fault is None
    assert kept.value.values == {"a": int(content[4])}


def test_a_file_that_is_gone_for_a_while_is_a_broken_edit(kept, file):
    file.rename(file.with_suffix(".bak"))
    assert kept.refresh() is True
    assert "cannot be read" in kept.fault.what
    file.with_suffix(".bak").rename(file)
    assert kept.refresh() is True
    assert (kept.value.values, kept.fault) == ({"a": 1}, None)


def test_what_was_wrong_from_the_start_is_raised(tmp_path: Path):
    with pytest.raises(ConfigurationFault):
        LastGood(lambda: read_toml(tmp_path / "none.toml"), lambda toml: [toml.path])


def test_a_watched_folder_shows_a_new_file(tmp_path: Path):
    (tmp_path / "a.toml").write_text("a = 1\n")
    listing = LastGood(lambda: sorted(path.name for path in tmp_path.glob("*.toml")), lambda names: [tmp_path])
    assert listing.refresh() is False
    (tmp_path / "b.toml").write_text("")
    (tmp_path / "c.txt").write_text("")
    assert listing.refresh() is True
    assert listing.value == ["a.toml", "b.toml"]


def test_a_fault_that_is_mended_in_a_file_nobody_watches(tmp_path: Path):
    """A set that starts from one that is not there: what mends it is a file that no good value was made from."""
    own, base = tmp_path / "own.toml", tmp_path / "base.toml"
    own.write_text("a = 1\n")

    def read() -> dict[str, object]:
        values = read_toml(own).values
        return values | (read_toml(base).values if "base" in values else {})

    kept = LastGood(read, lambda values: [own])
    own.write_text("base = 1\n")
    assert kept.refresh() is True
    base.write_text("b = 2\n")
    assert kept.refresh() is True
    assert (kept.value, kept.fault) == ({"base": 1, "b": 2}, None)
