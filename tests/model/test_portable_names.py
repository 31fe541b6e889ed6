"""Names that every disk can hold."""

import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tidegate.model.portable_names import collisions, comparable, name_faults


def codes(name: str) -> list[str]:
    return [code for code, _ in name_faults(name)]


# POSIX.1-2017 (IEEE 1003.1-2017) XBD 3.282, Portable Filename Character Set: A-Z a-z 0-9 . _ -
@pytest.mark.parametrize("letter", "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_-.")
def test_every_character_of_the_portable_set_passes(letter: str) -> None:
    assert name_faults(f"a{letter}b") == ()


def test_the_portable_set_holds_65_characters_and_no_other_ascii_one_passes() -> None:
    # 26 + 26 + 10 + 3
    assert sum(1 for code in range(128) if not name_faults(f"a{chr(code)}b")) == 65


def test_hyphen_may_not_stand_first() -> None:  # XBD 3.281
    assert codes("-crate.png") == ["leading-hyphen"]
    assert codes("c-rate.png") == []


# Microsoft, "Naming Files, Paths, and Namespaces": < > : " / \ | ? * and 0 to 31 are refused
@pytest.mark.parametrize("letter", '<>:"/\\|?*')
def test_signs_windows_refuses(letter: str) -> None:
    assert codes(f"crate{letter}.png") == ["windows-character"]


@pytest.mark.parametrize("code", [*range(32), 127, 0x80, 0x9F])
def test_control_characters(code: int) -> None:
    found = name_faults(f"crate{chr(code)}x.png")
    assert [one for one, _ in found] == ["control-character"]
    assert chr(code) not in found[0][1]
    assert f"U+{code:04X}" in found[0][1]


# The same page: reserved device names, also followed by any extension
@pytest.mark.parametrize(
    "name", ["CON", "PRN", "AUX", "NUL", *(f"COM{i}" for i in range(1, 10)), *(f"LPT{i}" for i in range(1, 10))]
)
def test_device_names(name: str) -> None:
    assert codes(name) == ["windows-device"]
    assert codes(name.lower()) == ["windows-device"]
    assert codes(f"{name}.txt") == ["windows-device"]
    assert codes(f"{name}.tar.gz") == ["windows-device"]
    assert codes(f"{name}x") == []
    assert codes(f"x{name}") == []
    assert codes(f"crate.{name}") == []


def test_device_names_with_superscripts() -> None:  # the newer page, from memory
    assert "windows-device" in codes("COM¹.png")
    assert "windows-device" in codes("lpt³")


def test_com0_and_com10_are_ordinary() -> None:
    assert codes("COM0") == []
    assert codes("COM10") == []


def test_no_trailing_dot_or_space() -> None:
    assert codes("crate.") == ["trailing-dot-or-space"]
    assert codes("crate ") == ["not-portable", "trailing-dot-or-space"]
    assert codes("crate.png") == []


def test_length_counts_bytes_on_both_sides_of_255() -> None:
    # NAME_MAX of Linux is 255 bytes
    assert codes("a" * 255) == []
    assert codes("a" * 256) == ["too-long"]
    # e with acute is two bytes: 127 of them are 254 bytes, 128 are 256
    assert "too-long" not in codes("é" * 127)
    assert "too-long" in codes("é" * 128)


def test_composed_and_decomposed_accents() -> None:
    # UAX #15: NFC of e with acute is C3 A9, NFD is 65 CC 81
    assert "é".encode() == b"\xc3\xa9"
    assert unicodedata.normalize("NFD", "é").encode() == b"\x65\xcc\x81"
    assert codes("caf\u00e9.png") == ["not-portable"]
    assert codes("cafe\u0301.png") == ["not-portable", "not-nfc"]


def test_bytes_that_are_no_text() -> None:
    name = b"crate\xff.png".decode("utf-8", "surrogateescape")
    assert codes(name) == ["not-unicode"]
    assert all(text.isprintable() for _, text in name_faults(name))
    # one byte on the disk each: 251 of them and ".png" are 255
    long = (b"\xff" * 251 + b".png").decode("utf-8", "surrogateescape")
    assert "too-long" not in codes(long)
    assert "too-long" in codes("\udcff" + long)
    assert "not-unicode" in codes("\ud800.png")


def test_empty_and_dots() -> None:
    assert codes("") == ["empty"]
    assert codes(".") == ["dot-name"]
    assert codes("..") == ["dot-name"]
    assert codes("...") == ["trailing-dot-or-space"]


def test_collisions_by_case_and_by_unicode_form() -> None:
    assert collisions(["Crate.png", "crate.png", "lid.png"]) == (("Crate.png", "crate.png"),)
    assert collisions(["caf\u00e9", "cafe\u0301"]) == (("cafe\u0301", "caf\u00e9"),)
    assert collisions(["CAFE\u0301", "caf\u00e9"]) == (("CAFE\u0301", "caf\u00e9"),)
    assert collisions(["crate.png", "crate.png"]) == ()
    assert collisions(["maps/a.png", "Maps/A.png", "a.png"]) == (("Maps/A.png", "maps/a.png"),)
    # Full case folding: sharp s folds to ss (Unicode CaseFolding.txt, status F)
    assert collisions(["stra\u00dfe", "STRASSE"]) == (("STRASSE", "stra\u00dfe"),)


@given(st.text(st.characters(), max_size=40))
@settings(max_examples=60, deadline=None)
def test_never_raises_and_messages_are_printable(name: str) -> None:
    for code, sentence in name_faults(name):
        assert code == code.lower()
        assert sentence.isprintable()
    assert comparable(comparable(name)) == comparable(name)


@given(st.text("abcXYZ019._-", min_size=1, max_size=30).filter(lambda n: n[0] != "-" and n[-1] != "."))
@settings(max_examples=40, deadline=None)
def test_portable_names_have_no_fault(name: str) -> None:
    assert name_faults(name) == ()
