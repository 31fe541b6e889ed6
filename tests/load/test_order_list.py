"""Order lists: the same rows from CSV in every dress and from TOML, and every fault with its line."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.errors import ConfigurationFault
from tidegate.load.order_list import COLUMNS, read_order_list
from tidegate.load.table_file import read_table
from tidegate.model.order_row import OrderRow

CSV = """\
name,owner,category,triangles,triangles_lod1,triangles_collision,map_size,map_size_normal,variants,width_m,height_m,depth_m,rule_set,due
storm_lantern,north_pier,tool,8000,2000,60,2048,1024,red blue,0.2,0.45,0.2,handheld,2027-03-01
net_float,,,,,,,,,,,,,

bench,,furniture,,,,,,,1.8,0.8,0.5,,
"""
LANTERN = OrderRow(
    name="storm_lantern",
    owner="north_pier",
    category="tool",
    triangles=(("model", 8000), ("collision", 60), ("lod1", 2000)),
    map_sizes=(("", 2048), ("normal", 1024)),
    variants=("red", "blue"),
    size_m=(0.2, 0.45, 0.2),
    rule_set="handheld",
    due="2027-03-01",
    source="orders.csv",
    line=2,
)


def write(folder: Path, content: str | bytes, name: str = "orders.csv") -> Path:
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode("utf-8"))
    return path


def faults(path: Path, **more: object) -> list[tuple[int, str, str]]:
    with pytest.raises(ConfigurationFault) as caught:
        read_order_list(path, **more)
    all_of_them = (caught.value, *caught.value.others)
    assert {one.path for one in all_of_them} == {str(path)}
    return [(one.line, one.what, one.help) for one in all_of_them]


def test_every_column(tmp_path: Path):
    rows = read_order_list(write(tmp_path, CSV))
    assert list(rows) == ["storm_lantern", "net_float", "bench"]
    assert rows["storm_lantern"] == LANTERN
    assert rows["net_float"] == OrderRow(name="net_float", source="orders.csv", line=3)
    # Line 4 is empty and counts all the same.
    assert (rows["bench"].line, rows["bench"].size_m) == (5, (1.8, 0.8, 0.5))


def test_toml_holds_the_same(tmp_path: Path):
    text = """
[[prop]]
name = "storm_lantern"
owner = "north_pier"
category = "tool"
triangles = 8000
triangles_lod1 = 2000
triangles_collision = 60
map_size = 2048
map_size_normal = 1024
variants = ["red", "blue"]
width_m = 0.2
height_m = 0.45
depth_m = 0.2
rule_set = "handheld"
due = 2027-03-01
"""
    row = read_order_list(write(tmp_path, text, "orders.toml"))["storm_lantern"]
    for key in OrderRow.__slots__:
        if key != "source":
            assert getattr(row, key) == getattr(LANTERN, key)
    assert row.source == "orders.toml"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_as_spreadsheets_save_it(tmp_path: Path, encoding: str, separator: str, ending: str):
    lines = [["Name", "Owner", "Map Size", "Width-M", "height_m", "depth_m"], ["café", "Søren", "512", "1", "2", "3"]]
    text = ending.join(separator.join(line) for line in lines) + ending
    row = read_order_list(write(tmp_path, text.encode(encoding)))["café"]
    assert (row.owner, row.map_sizes, row.size_m, row.line) == ("Søren", (("", 512),), (1.0, 2.0, 3.0), 2)


def test_decimal_commas_where_the_separator_leaves_them_free(tmp_path: Path):
    rows = read_order_list(write(tmp_path, "name;width_m;height_m;depth_m\nbench;1,8;0,8;0.5\n"))
    assert rows["bench"].size_m == (1.8, 0.8, 0.5)


def test_a_comma_is_no_thousands_mark(tmp_path: Path):
    # 8,000 would be eight to some and eight thousand to others.
    assert faults(write(tmp_path, "name;triangles\nbench;8,000\n"))[0][:2] == (2, "`triangles` takes a whole number")


def test_quoted_cells_may_hold_separators_and_line_breaks(tmp_path: Path):
    text = 'name,owner,variants\nbench,"Pier, north\nand south","red, blue"\nfloat,"say ""ahoy""",\n'
    rows = read_order_list(write(tmp_path, text))
    assert rows["bench"].owner == "Pier, north\nand south"
    assert rows["bench"].variants == ("red", "blue")
    # The row of the bench takes two lines, so the float stands in line 4.
    assert (rows["float"].owner, rows["float"].line) == ('say "ahoy"', 4)


@pytest.mark.parametrize("text", ["red blue", "red;blue", "red, blue", "red | blue", " red  blue "])
def test_variants_in_one_cell(tmp_path: Path, text: str):
    row = read_order_list(write(tmp_path, f'name,variants\nbench,"{text}"\n'))["bench"]
    assert row.variants == ("red", "blue")


def test_a_separator_inside_quotes_does_not_count_in_the_sniff(tmp_path: Path):
    table = read_table(write(tmp_path, 'name,"a;b;c;d"\nx,y\n'))
    assert table.separator == ","


@pytest.mark.parametrize(
    ("cells", "what"),
    [
        ("triangles=0", "`triangles` is out of bounds"),
        ("triangles=-5", "`triangles` is out of bounds"),
        ("triangles=2000000001", "`triangles` is out of bounds"),
        ("triangles=many", "`triangles` takes a whole number"),
        ("triangles=1.5", "`triangles` takes a whole number"),
        ("triangles=" + "9" * 5000, "`triangles` takes a whole number"),
        ("triangles_lod1=x", "`triangles_lod1` takes a whole number"),
        ("map_size_normal=0", "`map_size_normal` is out of bounds"),
        ("width_m=nan", "`width_m` takes a number"),
        ("width_m=inf", "`width_m` takes a number"),
        ("width_m=0", "`width_m` is out of bounds"),
        ("width_m=1", "the size of `bench` is not whole"),
        ("due=1.3.2027", "`due` is no date"),
        ("due=2027-02-30", "`due` is no date"),
        ("due=20270301", "`due` is no date"),
        ("variants=red red", "`variants` names a variant twice"),
        ("rule_set=../x.toml", "`rule_set` takes the name of a rule set"),
    ],
)
def test_a_wrong_cell_names_its_line_and_column(tmp_path: Path, cells: str, what: str):
    column, value = cells.split("=", 1)
    assert faults(write(tmp_path, f"name,{column}\nright,\nbench,{value}\n"))[0][:2] == (3, what)


@pytest.mark.parametrize("cells", ["triangles=1", "triangles=2000000000", "due=2028-02-29", "map_size=1"])
def test_the_near_side_of_each_bound(tmp_path: Path, cells: str):
    column, value = cells.split("=", 1)
    assert "bench" in read_order_list(write(tmp_path, f"name,{column}\nbench,{value}\n"))


@pytest.mark.parametrize(
    ("header", "help"),
    [
        ("name,triangels", "did you mean `triangles`?"),
        ("name,triangles_lood1", "did you mean `triangles_lod1`?"),
        ("name,budget", ""),
        ("name,map_size_", "did you mean `map_size`?"),
    ],
)
def test_an_unknown_column_is_told_once_with_the_nearest(tmp_path: Path, header: str, help: str):
    found = faults(write(tmp_path, f"{header}\nbench,1\nfloat,2\n"))
    assert [(line, hint) for line, _, hint in found] == [(1, help)]


def test_slots_are_held_against_those_that_exist(tmp_path: Path):
    path = write(tmp_path, "name,map_size_nromal\nbench,512\n")
    assert read_order_list(path)["bench"].map_sizes == (("nromal", 512),)
    assert faults(path, slots=("normal", "height")) == [
        (1, "`map_size_nromal` is for an unknown slot", "did you mean `normal`?")
    ]


def test_all_faults_come_at_once(tmp_path: Path):
    text = "name,triangles,tringles,triangles\nbench,1\n,5\nBENCH,0\na/b,1\nfloat,1,,,,9\n"
    assert [(line, what) for line, what, _ in faults(write(tmp_path, text))] == [
        (1, "column `triangles` stands there twice"),
        (1, "unknown column `tringles`"),
        (3, "`name` is missing"),
        (4, "`triangles` is out of bounds"),
        (4, "`BENCH` is ordered twice"),
        (5, "`name` is no name of a prop"),
        (6, "has a cell that no column is named for"),
    ]


@pytest.mark.parametrize(("cells", "left_out"), [("1,,", "`height_m`, `depth_m`"), ("1,2,", "`depth_m`")])
def test_a_size_with_sides_left_out(tmp_path: Path, cells: str, left_out: str):
    assert faults(write(tmp_path, f"name,width_m,height_m,depth_m\nbench,{cells}\n")) == [
        (2, "the size of `bench` is not whole", f"state {left_out} too, or none of them")
    ]


def test_the_same_name_twice_says_where_the_first_stands(tmp_path: Path):
    with pytest.raises(ConfigurationFault) as caught:
        read_order_list(write(tmp_path, "name\nbench\nfloat\nBench\n"))
    assert (caught.value.line, caught.value.what, caught.value.came) == (
        4,
        "`Bench` is ordered twice",
        "also in line 2",
    )


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (b"\n\n \n", "is empty"),
        (b"owner\nx\n", "has no column `name`"),
        (b'name\n"open\n', "is not a table"),
        (b'name,owner\n"a"b,c\n', "is not a table"),
        (b"name\nx\x00y\n", "is not text"),
        (b"name\n\x81\n", "is not text"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", "is not text"),
        (b"name\n" + b"x" * 200_000, "is not a table"),
    ],
)
def test_what_is_no_list(tmp_path: Path, content: bytes, words: str):
    assert words in faults(write(tmp_path, content))[0][1]


def test_a_list_that_is_not_there(tmp_path: Path):
    for name in ("nowhere.csv", "nowhere.toml"):
        with pytest.raises(ConfigurationFault, match="cannot be read"):
            read_order_list(tmp_path / name)


def test_a_list_without_rows_orders_nothing(tmp_path: Path):
    assert read_order_list(write(tmp_path, ",".join(COLUMNS) + "\n")) == {}


@pytest.mark.parametrize(
    ("text", "line", "what"),
    [
        ("[[prop]]\nname = 3\n", 2, "`name` takes a text"),
        ("[[prop]]\nname = 'a'\ntriangles = '5'\n", 3, "`triangles` takes a whole number"),
        ("[[prop]]\nname = 'a'\nvariants = [1]\n", 3, "`variants` takes a text"),
        ("[[prop]]\nname = 'a'\ndue = 2027-03-01T10:00:00\n", 3, "`due` is no date"),
        ("[[prop]]\nname = 'a'\n\nowners = 'x'\n", 4, "unknown column `owners`"),
        ("[[prop]]\nowner = 'x'\n", 1, "`name` is missing"),
        ("[[props]]\nname = 'x'\n", 1, "unknown key `props`"),
        ("prop = 3\n", 1, "`prop` is not a list of rows"),
        ("[[prop]]\nname = 'a'\n[[prop]]\nname = 'a'\n", 3, "`a` is ordered twice"),
    ],
)
def test_faults_of_toml(tmp_path: Path, text: str, line: int, what: str):
    assert faults(write(tmp_path, text, "orders.toml"))[0][:2] == (line, what)


WORDS = st.text("abcdefghij", min_size=1, max_size=6)


@settings(max_examples=40, deadline=None)
@given(
    st.dictionaries(
        WORDS,
        st.tuples(st.none() | st.integers(1, 10**6), st.lists(WORDS, unique=True, max_size=3)),
        min_size=1,
        max_size=6,
    ),
    st.sampled_from([",", ";", "\t"]),
)
def test_what_is_written_is_read(tmp_path_factory: pytest.TempPathFactory, rows, separator: str):
    lines = [separator.join(("name", "triangles", "variants"))]
    lines += [separator.join((name, str(most or ""), " ".join(variants))) for name, (most, variants) in rows.items()]
    read = read_order_list(write(tmp_path_factory.mktemp("orders"), "\n".join(lines)))
    assert {name: (dict(row.triangles).get("model"), list(row.variants)) for name, row in read.items()} == rows
    assert [row.line for row in read.values()] == list(range(2, len(rows) + 2))


def test_a_mistyped_category_is_told_and_a_studios_own_is_not(tmp_path: Path):
    """Mistyped it would be like none, and the gate's own rule set would judge in silence."""
    known = ("furniture", "building_part")
    # "furnitur" shares 8 letters of 8 and 9 with "furniture": 2 x 8 / 17 = 0.94; "tool" at most 2 x 2 / 13.
    path = write(tmp_path, "name,category\nbench,furnitur\nhook,tool\nwall,building_part\nrope,\n")
    assert faults(path, categories=known) == [(2, "`furnitur` is no category known here", "did you mean `furniture`?")]
    assert read_order_list(path)["bench"].category == "furnitur"
