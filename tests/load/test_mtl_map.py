"""One map statement: options, their arguments, and what is left as the file name.

"MTL" stands for the MTL file format 4.2, 1995, texture map statements.
"""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.load.mtl_map import parse_map, unquoted

EVERY_OPTION = (
    "-blendu off -blendv on -bm 0.2 -boost 1.5 -cc on -clamp on -imfchan g -mm 0 1 "
    "-o 1 2 3 -s 4 5 6 -t 7 8 9 -texres 1024 -type sphere "
)


def test_every_option_is_kept() -> None:
    found = parse_map(EVERY_OPTION + "net float.png")
    assert found.file == "net float.png"
    assert found.incomplete == ()
    assert found.options == (
        ("blendu", "off"),
        ("blendv", "on"),
        ("bm", "0.2"),
        ("boost", "1.5"),
        ("cc", "on"),
        ("clamp", "on"),
        ("imfchan", "g"),
        ("mm", "0 1"),
        ("o", "1 2 3"),
        ("s", "4 5 6"),
        ("t", "7 8 9"),
        ("texres", "1024"),
        ("type", "sphere"),
    )


@pytest.mark.parametrize(
    ("rest", "file", "options"),
    [
        # MTL: v and w of -o, -s and -t may be left out, so reading stops at the first word that is no number.
        ("-s 2 rope.png", "rope.png", (("s", "2"),)),
        ("-s 2 3 rope.png", "rope.png", (("s", "2 3"),)),
        ("-s 2 3 4 rope.png", "rope.png", (("s", "2 3 4"),)),
        ("-s 2 3 4 5.png", "5.png", (("s", "2 3 4"),)),
        ("-o .5 -1e-1 1_rope.png", "1_rope.png", (("o", ".5 -1e-1"),)),
        ("-s 1 1 1 -o 0 0 0 rope.png", "rope.png", (("s", "1 1 1"), ("o", "0 0 0"))),
        ("-mm 0.1 rope.png", "rope.png", (("mm", "0.1"),)),
        ("-BM 0.5 -Clamp ON rope.png", "rope.png", (("bm", "0.5"), ("clamp", "on"))),
        ("rope.png", "rope.png", ()),
        ("  my  rope map.png  ", "my  rope map.png", ()),
        ("-rope.png", "-rope.png", ()),
        ("C:\\maps\\rope.png", "C:\\maps\\rope.png", ()),
        ('"my rope.png"', '"my rope.png"', ()),
        ("-bm\t1\tmaps/rope.png", "maps/rope.png", (("bm", "1"),)),
        # Behind the name, against the text, but written by some exporters.
        ("rope map.png -bm 0.2", "rope map.png", (("bm", "0.2"),)),
        ("rope -s coil.png", "rope -s coil.png", ()),
        ("rope -o 1 coil.png", "rope -o 1 coil.png", ()),
        ("", "", ()),
        ("-s 1 1 1", "", (("s", "1 1 1"),)),
    ],
)
def test_where_the_name_begins(rest: str, file: str, options: tuple[tuple[str, str], ...]) -> None:
    found = parse_map(rest)
    assert (found.file, found.options) == (file, options)


@pytest.mark.parametrize(
    ("rest", "file", "incomplete"),
    [
        ("-clamp rope.png", "rope.png", ("-clamp",)),
        ("-bm -s 2 rope.png", "rope.png", ("-bm",)),
        ("-imfchan x rope.png", "x rope.png", ("-imfchan",)),
        ("-s", "", ("-s",)),
    ],
)
def test_options_without_their_argument(rest: str, file: str, incomplete: tuple[str, ...]) -> None:
    found = parse_map(rest)
    assert (found.file, found.incomplete) == (file, incomplete)


def test_scale_and_offset_make_a_transform() -> None:
    transform = parse_map("-s 2 4 1 -o 0.25 -0.5 9 rope.png").transform()
    assert transform is not None
    assert transform.matrix == ((2, 0, 0.25), (0, 4, -0.5))


def test_numbers_left_out_have_their_defaults() -> None:
    # MTL: -s 1 1 1, -o 0 0 0.
    assert parse_map("-s 2 rope.png").transform().matrix == ((2, 0, 0), (0, 1, 0))
    assert parse_map("-o 0.5 rope.png").transform().matrix == ((1, 0, 0.5), (0, 1, 0))


@pytest.mark.parametrize("rest", ["rope.png", "-s 1 1 1 -o 0 0 0 rope.png", "-t 5 5 5 rope.png"])
def test_no_transform_where_nothing_changes(rest: str) -> None:
    assert parse_map(rest).transform() is None


def test_clamp() -> None:
    assert parse_map("-clamp on rope.png").wrap() == ("clamp", "clamp")
    assert parse_map("-clamp off rope.png").wrap() == ("repeat", "repeat")
    assert parse_map("rope.png").wrap() == ("repeat", "repeat")  # MTL: default off


@pytest.mark.parametrize(
    ("letter", "channels"), [("r", "r"), ("g", "g"), ("b", "b"), ("m", "a"), ("l", "rgb"), ("z", "usual")]
)
def test_channels(letter: str, channels: str) -> None:
    assert parse_map(f"-imfchan {letter} rope.png").channels("usual") == channels
    assert parse_map("rope.png").channels("usual") == "usual"


@pytest.mark.parametrize(
    ("name", "bare"), [('"a b.png"', "a b.png"), ("'a.png'", "a.png"), ('"a.png', '"a.png'), ('"', '"'), ("a", "a")]
)
def test_quotation_marks(name: str, bare: str) -> None:
    assert unquoted(name) == bare


@settings(max_examples=60, deadline=None)
@given(st.text(st.sampled_from("-sobm tclamp0123456789.eE\"'\t#/\\on "), max_size=60))
def test_never_raises_and_invents_nothing(rest: str) -> None:
    found = parse_map(rest)
    assert found.file in rest
    found.transform()
    found.wrap()
