import numpy as np
import pytest

from tidegate.pixels.color_space import LUMINANCE, decode, decode_table, encode, encode_table


@pytest.mark.parametrize(
    ("code", "linear"),
    # IEC 61966-2-1:1999 formulae worked out; constants as in Khronos Data Format Specification 1.4, "sRGB EOTF".
    # Code 10 is the last one on the straight part (10 / 255 = 0.0392 <= 0.04045).
    [
        (0, 0.0),
        (1, 0.0003035),
        (10, 0.0030353),
        (11, 0.0033465),
        (64, 0.0512695),
        (124, 0.2015563),
        (127, 0.2122308),
        (128, 0.2158605),
        (188, 0.5028865),
        (231, 0.7991027),
        (255, 1.0),
    ],
)
def test_published_curve(code, linear):
    assert decode_table()[code] == pytest.approx(linear, abs=5e-8)
    assert encode(linear) == pytest.approx(code / 255, abs=2e-6)


def test_more_values_of_the_curve():
    assert decode(0.5) == pytest.approx(0.2140411, abs=5e-8)
    assert encode(0.18) == pytest.approx(0.4613561, abs=5e-8)
    assert encode(0.5) == pytest.approx(0.7353570, abs=5e-8)


def test_eight_bit_round_trip_is_exact_and_linear_storage_loses_codes():
    codes = np.arange(256)
    assert (np.rint(encode(decode_table()) * 255) == codes).all()
    assert len(np.unique(np.rint(decode_table() * 255))) == 183  # 73 of 256 codes fall together
    assert np.allclose(decode(encode_table()), codes / 255, atol=1e-12)


def test_branches_meet_at_the_junction():
    # The rounded constants of the standard leave a step of about 2.3e-9 there, no more.
    straight, curved = 0.04045 / 12.92, ((0.04045 + 0.055) / 1.055) ** 2.4
    assert abs(straight - curved) < 1e-8
    assert decode(0.04045) == straight


def test_tables_are_shared_and_cannot_be_spoilt():
    assert decode_table() is decode_table()
    with pytest.raises(ValueError, match="read-only"):
        decode_table()[0] = 1


def test_luminance_weights():
    assert LUMINANCE == (0.2126, 0.7152, 0.0722)  # Rec. ITU-R BT.709-6
    assert sum(LUMINANCE) == pytest.approx(1.0, abs=1e-12)


def test_the_worked_example_of_the_gltf_specification():
    # glTF 2.0, 3.9.2: a base color texel of 8-bit codes [64, 124, 231, 255] under the factor [0.2, 1.0, 0.7, 1.0] is
    # [0.0102, 0.202, 0.5593, 1.0]: color decoded through the sRGB curve, alpha linear, then multiplied. The text multiplies
    # rounded values, hence 1e-3.
    codes, factor = np.array([64, 124, 231]) / 255, np.array([0.2, 1.0, 0.7])
    assert decode(codes) * factor == pytest.approx([0.0102, 0.202, 0.5593], abs=1e-3)
    assert decode(codes) == pytest.approx([0.0512695, 0.2015563, 0.7991027], abs=1e-7)
