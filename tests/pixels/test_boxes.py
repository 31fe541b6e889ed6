import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.pixels.boxes import cut_out, cut_outs


def test_a_small_place_in_the_middle_gets_the_least_side_centred():
    assert cut_out((500, 300, 502, 302), 1024, 1024, least=128, margin=16) == (437, 237, 565, 365)


def test_a_large_place_gets_its_margin():
    assert cut_out((100, 100, 400, 200), 1024, 1024, least=128, margin=16) == (84, 84, 416, 216)


def test_at_the_border_it_is_moved_not_cut():
    assert cut_out((0, 1020, 4, 1024), 1024, 1024, least=128, margin=16) == (0, 896, 128, 1024)
    assert cut_out((3, 0, 5, 2), 64, 32, least=128) == (0, 0, 64, 32)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_the_place_is_always_shown_whole_and_inside(data):
    width, height = data.draw(st.integers(1, 300)), data.draw(st.integers(1, 300))
    x0, y0 = data.draw(st.integers(0, width - 1)), data.draw(st.integers(0, height - 1))
    x1, y1 = data.draw(st.integers(x0 + 1, width)), data.draw(st.integers(y0 + 1, height))
    left, top, right, bottom = cut_out((x0, y0, x1, y1), width, height)
    assert 0 <= left <= x0
    assert x1 <= right <= width
    assert 0 <= top <= y0
    assert y1 <= bottom <= height
    assert right - left >= min(128, width)


@pytest.mark.parametrize("box", [(5, 5, 5, 9), (-1, 0, 4, 4), (0, 0, 65, 4), (0, 60, 4, 65)])
def test_boxes_that_are_none_are_refused(box):
    with pytest.raises(ValueError, match="empty or outside"):
        cut_out(box, 64, 64)


def test_places_close_together_share_a_cut_out_and_the_count_is_kept():
    boxes = [(500, 500, 504, 504), (520, 510, 522, 512), (10, 10, 12, 12), (900, 900, 901, 901), (505, 505, 506, 506)]
    shown = cut_outs(boxes, 1024, 1024, most=2)
    assert [inside for _, inside in shown] == [(0, 1, 4), (2,)]
    assert cut_outs([], 64, 64) == []
