"""File names that every disk, archive and operating system can hold, and that stay apart on all of them."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

from .name_words import shown

# POSIX.1-2017 XBD 3.282 Portable Filename Character Set.
_PORTABLE = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789._-")
# Microsoft, "Naming Files, Paths, and Namespaces". The superscript digits stand on its newer page (from memory).
_WINDOWS_SIGNS = frozenset('<>:"/\\|?*')
_WINDOWS_DEVICES = frozenset(
    ["CON", "PRN", "AUX", "NUL", *(f"{port}{digit}" for port in ("COM", "LPT") for digit in "123456789¹²³")]
)
_MOST_BYTES = 255  # NAME_MAX of Linux, in bytes; one component on Windows holds 255 UTF-16 units


def name_faults(name: str) -> tuple[tuple[str, str], ...]:
    """What would go wrong with one file or folder name, as (code, sentence) pairs in fixed order, () when nothing would.

    Codes: `empty`, `dot-name`, `control-character`, `windows-character`, `not-unicode`, `not-portable`, `not-nfc`,
    `windows-device`, `trailing-dot-or-space`, `leading-hyphen`, `too-long`. Never raises.
    """
    if not name:
        return (("empty", "the name is empty"),)
    if name in (".", ".."):
        return (("dot-name", f"{shown(name)} means a folder itself or the one above it"),)
    faults: list[tuple[str, str]] = []
    control = sorted({one for one in name if ord(one) < 32 or 127 <= ord(one) < 160})
    if control:
        faults.append(("control-character", f"{shown(name)} holds the control character {_codes(control)}"))
    signs = sorted({one for one in name if one in _WINDOWS_SIGNS})
    if signs:
        faults.append(("windows-character", f"{shown(name)} holds {' '.join(signs)}, which Windows refuses in names"))
    broken = any(0xD800 <= ord(one) <= 0xDFFF for one in name)
    if broken:
        faults.append(("not-unicode", f"{shown(name)} holds bytes that are not UTF-8"))
    strange = sorted(set(name) - _PORTABLE - set(control) - set(signs))
    strange = [one for one in strange if not 0xD800 <= ord(one) <= 0xDFFF]
    if strange:
        listed = ", ".join(_one(letter) for letter in strange[:5]) + (" and more" if len(strange) > 5 else "")
        faults.append(("not-portable", f"{shown(name)} holds {listed}; portable are A-Z a-z 0-9 . _ -"))
    if not broken and unicodedata.normalize("NFC", name) != name:
        faults.append(("not-nfc", f"{shown(name)} is not in Unicode form NFC, so another disk may store it otherwise"))
    device = name.split(".", 1)[0].rstrip(" ").upper()
    if device in _WINDOWS_DEVICES:
        faults.append(("windows-device", f"{shown(name)} is the device {device} on Windows, whatever its suffix"))
    if name[-1] in ". ":
        sign = "dot" if name[-1] == "." else "space"
        faults.append(("trailing-dot-or-space", f"{shown(name)} ends with a {sign}, which Windows drops"))
    if name[0] == "-":
        faults.append(("leading-hyphen", f"{shown(name)} starts with a hyphen, which commands take for an option"))
    size = len(name.encode("utf-8", "surrogateescape" if _escaped(name) else "surrogatepass"))
    if size > _MOST_BYTES:
        faults.append(("too-long", f"{shown(name)} is {size} bytes long; at most {_MOST_BYTES} fit"))
    return tuple(faults)


def collisions(names: Iterable[str]) -> tuple[tuple[str, ...], ...]:
    """Groups of different names that are one name on a disk that folds case or Unicode forms. Sorted.

    Names may be paths with "/" between parts. Compared as NFC of the case-folded NFC of the name.
    """
    groups: dict[str, set[str]] = {}
    for name in names:
        groups.setdefault(comparable(name), set()).add(name)
    return tuple(sorted(tuple(sorted(group)) for group in groups.values() if len(group) > 1))


def comparable(name: str) -> str:
    """The form in which two names are compared: no upper and lower case, Unicode NFC."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


def _escaped(name: str) -> bool:
    """Whether all lone surrogates stand for bytes that the disk gave and Python could not decode (PEP 383)."""
    return all(0xDC80 <= ord(one) <= 0xDCFF for one in name if 0xD800 <= ord(one) <= 0xDFFF)


def _one(letter: str) -> str:
    return "a space" if letter == " " else shown(letter)


def _codes(letters: list[str]) -> str:
    return ", ".join(f"U+{ord(one):04X}" for one in letters[:5])
