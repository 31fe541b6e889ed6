"""Values come from tomllib; what is tested here are the lines, the faults, and that the scanner never loses its place."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.errors import ConfigurationFault
from tidegate.load.toml_file import parse_toml, read_toml


def test_lines_of_every_kind_of_key():
    text = """# 1
title = "x"
a.b.c = 1
a.b.d = 2

[table]
key = [
  10,
  # between
  20, 30,
]
inline = { one = 1, deep.er = { two = 2 } }

[[many]]
name = "first"
[many.inner]
x = 1
[[many.leaf]]
y = 1
[[many.leaf]]
y = 2
[[many]]
name = "second"
[many.inner]
x = 3
"""
    toml = parse_toml(text, "f.toml")
    expected = {
        ("title",): 2,
        ("a",): 3,
        ("a", "b"): 3,
        ("a", "b", "c"): 3,
        ("a", "b", "d"): 4,
        ("table",): 6,
        ("table", "key"): 7,
        ("table", "key", 0): 8,
        ("table", "key", 1): 10,
        ("table", "key", 2): 10,
        ("table", "inline"): 12,
        ("table", "inline", "one"): 12,
        ("table", "inline", "deep"): 12,
        ("table", "inline", "deep", "er"): 12,
        ("table", "inline", "deep", "er", "two"): 12,
        ("many",): 14,
        ("many", 0): 14,
        ("many", 0, "name"): 15,
        ("many", 0, "inner"): 16,
        ("many", 0, "inner", "x"): 17,
        ("many", 0, "leaf"): 18,
        ("many", 0, "leaf", 0): 18,
        ("many", 0, "leaf", 0, "y"): 19,
        ("many", 0, "leaf", 1): 20,
        ("many", 0, "leaf", 1, "y"): 21,
        ("many", 1): 22,
        ("many", 1, "name"): 23,
        ("many", 1, "inner"): 24,
        ("many", 1, "inner", "x"): 25,
    }
    assert toml.lines == expected
    assert toml.values == tomllib.loads(text)


@pytest.mark.parametrize(
    "value",
    [
        '"a # no comment"',
        '"a \\" quote = ] }"',
        "'C:\\inbox\\'",
        "'it # [[x]]'",
        '"""one\ntwo = 2\n[three]\n"""',
        '"""ends with quotes"""""',
        '"""\\"""\\\nnext"""',
        "'''one\n'two' = 2\n[three]'''",
        "'''ends with quotes'''''",
        '""',
        "''",
        '""""""',
        "''''''",
        "1979-05-27 07:32:00",
        "-1_000.5e3",
        "[[1, 2], ['a]', \"b,\"]]",
        "[ # comment ]\n 1 ]",
        "{}",
        "[]",
        "{ a = [1,\n2], 'b c' = 3 }",
    ],
)
def test_the_scanner_keeps_its_place_behind_every_kind_of_value(value: str):
    text = f"before = 1\nkey = {value} # comment = 1\nafter = 1\n"
    toml = parse_toml(text, "f.toml")
    # `after` stands on the last line, however many lines the value takes.
    assert toml.line_of("after") == text.count("\n")
    assert toml.line_of("key") == 2
    # The scanner finds exactly the keys that tomllib has.
    assert {path[0] for path in toml.lines} == {"before", "key", "after"}


def test_quoted_and_odd_keys():
    toml = parse_toml('"a b" = 1\n\'c.d\' = 2\n"\\u00e9" = 3\n"" = 4\nx . "y.z" = 5\n123 = 6\n', "f.toml")
    assert toml.lines == {
        ("a b",): 1,
        ("c.d",): 2,
        ("é",): 3,
        ("",): 4,
        ("x",): 5,
        ("x", "y.z"): 5,
        ("123",): 6,
    }


def test_a_header_of_its_own_wins_over_one_in_passing():
    toml = parse_toml("[a.b]\nx = 1\n[a]\ny = 1\n", "f.toml")
    assert toml.line_of("a") == 3
    assert toml.line_of("a", "b") == 1


def test_the_line_of_a_missing_key_is_that_of_the_table_around_it():
    toml = parse_toml("\n\n[gate]\nname = 'north'\n", "f.toml")
    assert toml.line_of("gate", "inbox") == 3
    assert toml.line_of("elsewhere") == 1


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_line_endings_and_byte_order_mark_change_nothing(tmp_path: Path, ending: str, mark: bytes):
    file = tmp_path / "f.toml"
    file.write_bytes(mark + ending.join(["a = '''", "x", "'''", "b = 2", ""]).encode())
    toml = read_toml(file)
    assert toml.line_of("b") == 4
    assert toml.values == {"a": "x\n", "b": 2}


@pytest.mark.parametrize(
    ("content", "line", "words"),
    [
        (b"a = 1\nb = \n", 2, "invalid value"),
        (b"a = 1\na = 2\n", 2, "cannot overwrite"),
        (b"[t]\nx = 1\n\n[t]\n", 4, "cannot declare"),
        (b"a = 1\nb = 'open", 2, "not valid TOML"),
        (b"a = 1\n\nb = '\xff'\n", 3, "not UTF-8"),
        (b"when = 2023-02-31\n", 1, "not valid TOML"),
        (b"a = " + b"[" * 20_000, 0, "too deeply"),
        (b"a = " + b"[" * 20_000 + b"]" * 20_000, 0, "too deeply"),
    ],
)
def test_syntax_faults_name_the_line(tmp_path: Path, content: bytes, line: int, words: str):
    file = tmp_path / "f.toml"
    file.write_bytes(content)
    with pytest.raises(ConfigurationFault) as caught:
        read_toml(file)
    assert caught.value.line == line
    assert words.lower() in caught.value.what.lower()
    assert caught.value.path == str(file)


@pytest.mark.parametrize("name", ["nowhere.toml", "folder"])
def test_a_file_that_is_not_there_is_a_fault(tmp_path: Path, name: str):
    (tmp_path / "folder").mkdir()
    with pytest.raises(ConfigurationFault, match="cannot be read"):
        read_toml(tmp_path / name)


KEYS = st.text("abcé .\"'#=[]{}-", max_size=4)
SCALARS = st.one_of(
    st.integers(-9, 9), st.booleans(), st.text("ab\"'#=[]{},\n\\", max_size=6), st.lists(st.integers(0, 3), max_size=3)
)


def written(value: object) -> str:
    """A TOML spelling of a value; texts with a line break take the three-quote form."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        body = value.replace("\\", "\\\\").replace('"', '\\"')
        return f'"""{body}"""' if "\n" in value and not value.startswith("\n") else f'"{body}"'.replace("\n", "\\n")
    if isinstance(value, list):
        return "[\n" + ",\n".join(written(item) for item in value) + "]"
    return str(value)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(KEYS, st.dictionaries(KEYS, SCALARS, max_size=4)), max_size=4))
def test_lines_agree_with_those_noted_while_writing(tables: list[tuple[str, dict[str, object]]]):
    """Writes a random file and notes the line of each key: the scanner has to find the same."""
    lines: list[str] = []
    expected: dict[tuple[str | int, ...], int] = {}
    counts: dict[str, int] = {}

    def here() -> int:
        return "\n".join(lines).count("\n") + 2 if lines else 1

    for name, table in tables:
        number = counts.get(name, 0)
        counts[name] = number + 1
        expected.setdefault((name,), here())
        expected[(name, number)] = here()
        lines.append(f"[[ {written(name)} ]]  # comment [x]")
        for key, value in table.items():
            line = expected[(name, number, key)] = here()
            lines.append(f"{written(key)} = {written(value)}")
            for index in range(len(value) if isinstance(value, list) else 0):
                expected[(name, number, key, index)] = line + index + 1
    toml = parse_toml("\n".join(lines), "f.toml")
    assert toml.lines == expected
