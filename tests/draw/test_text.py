"""Words in pictures: they stand apart, take the room they are said to, and no two letters look alike."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw

from tidegate.draw.palette import INK, PAPER
from tidegate.draw.text import drawable, shortened, width_of, wrapped, write


def columns_of(text: str, size: int, bold: bool) -> np.ndarray:
    """The columns of pixels that hold ink, from where the text begins."""
    image = Image.new("RGB", (400, 60), PAPER)
    write(ImageDraw.Draw(image), (10, 5), text, INK, size, bold=bold)
    return np.flatnonzero((np.asarray(image) != PAPER).any(axis=(0, 2))) - 10


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("text", ["error mirrored", "4 x", "A B", "normals-facing-away (follows"])
def test_words_stand_apart_and_take_the_room_they_are_said_to(text: str, bold: bool) -> None:
    size = 16
    columns = columns_of(text, size, bold)
    assert columns[0] >= 0 and columns[-1] <= width_of(text, size, bold=bold)
    if " " in text:
        assert np.diff(columns).max() - 1 >= 0.25 * size  # free pixels between the words


@pytest.mark.parametrize("size", [12, 16, 24])
def test_bold_letters_do_not_run_into_one_another(size: int) -> None:
    # Nine strokes with eight gaps between them: each gap has at least a column that is lighter than the strokes.
    image = Image.new("RGB", (300, 60), (255, 255, 255))
    write(ImageDraw.Draw(image), (10, 5), "I" * 9, (0, 0, 0), size, bold=True)
    inked = np.flatnonzero(np.asarray(image)[5 + size // 2, :, 0] < 128)
    assert len(np.split(inked, np.flatnonzero(np.diff(inked) > 1) + 1)) == 9


@pytest.mark.parametrize(
    ("text", "drawn"),
    [
        ("crate_base_color.png, 4 texels", "crate_base_color.png, 4 texels"),
        ("灯台", "\\u706f\\u53f0"),  # U+706F U+53F0
        ("Stühle", "St\\xfchle"),  # U+00FC
        ("a…b", "a…b"),  # U+2026: one of the few beyond ASCII that the typeface has
        ("two\nlines\x1b", "two\\nlines\\x1b"),
    ],
)
def test_letters_that_the_typeface_lacks_stand_as_escapes(text: str, drawn: str) -> None:
    assert drawable(text) == drawn


@pytest.mark.parametrize("bold", [False, True])
def test_names_that_differ_look_different(bold: bool) -> None:
    assert len({columns_of(name, 16, bold).tobytes() for name in ("к", "х", "灯", "台")}) > 1
    assert columns_of("灯", 16, bold)[-1] <= width_of("灯", 16, bold=bold)


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("text", ["a word and " * 20, "furniture_灯台_кнехт" * 6])
def test_lines_are_as_wide_as_they_may_be_and_no_wider(text: str, bold: bool) -> None:
    lines = wrapped(text, 16, 200, bold=bold)
    assert "".join("".join(lines).split()) == "".join(text.split())
    assert all(width_of(line, 16, bold=bold) <= 200 for line in lines)
    short = shortened(text, 16, 200, bold=bold)
    assert short.endswith("...") and 150 < width_of(short, 16, bold=bold) <= 200


def test_a_long_name_is_cut_between_its_words_where_that_leaves_no_short_line() -> None:
    name = "harbour_promenade_lamp_post_with_double_lantern.png"
    lines = wrapped(name, 16, 200)
    assert "".join(lines) == name and len(lines) > 1
    assert all(line[-1] in "_.-" for line in lines[:-1])
    assert len(wrapped("a_" + "m" * 40, 16, 200)[0]) > 2  # two letters alone on a line say nothing
