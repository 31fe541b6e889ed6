import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import label

from tidegate.pixels.clusters import clusters


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.floats(0.0, 0.9))
def test_agrees_with_scipy_for_eight_neighbours(seed, density):
    rng = np.random.default_rng(seed)
    mask = rng.random((rng.integers(1, 30), rng.integers(1, 30))) < density
    place = np.flatnonzero(mask)
    found = clusters(place, np.zeros(len(place), np.int32), mask.shape[1])
    want, count = label(mask, np.ones((3, 3)))
    assert len(found) == count
    pairs = set(zip(want.reshape(-1)[place].tolist(), found.number_of.tolist(), strict=True))
    assert len(pairs) == count  # one to one
    for number in range(count):
        y, x = np.divmod(place[found.number_of == number], mask.shape[1])
        assert found.box[number].tolist() == [x.min(), y.min(), x.max() + 1, y.max() + 1]
        assert found.texels[number] == len(x)
    assert (np.diff(found.texels) <= 0).all()


def test_owners_do_not_join_and_rows_do_not_wrap():
    # Row 0 ends where row 1 begins: flat neighbours, but not neighbours in the picture. 4 wide.
    found = clusters(np.array([3, 4]), np.zeros(2, np.int32), 4)
    assert len(found) == 2
    found = clusters(np.array([0, 1, 4]), np.array([0, 1, 0], np.int32), 4)
    assert found.owner.tolist() == [0, 1]
    assert found.texels.tolist() == [2, 1]


def test_a_spiral_is_one_cluster():
    mask = np.zeros((9, 9), bool)
    mask[0] = mask[:, 8] = mask[8] = True
    mask[2:, 0] = mask[2, :7] = mask[2:7, 6] = mask[6, 2:7] = True
    place = np.flatnonzero(mask)
    assert len(clusters(place, np.zeros(len(place), np.int32), 9)) == 1
