"""Text from strangers made fit to be printed: it can neither break a line, drive a terminal, nor turn the reading order."""

from __future__ import annotations


def printable(text: str) -> str:
    """One line: control, format and other unseen characters stand as escapes, bytes that are no UTF-8 (PEP 383) as `\\xNN`."""
    if text.isprintable():  # lone surrogates are not
        return text
    return "".join(letter if letter.isprintable() else _escaped(letter) for letter in text)


def printable_lines(text: str) -> str:
    """The same for text of ours that has lines of its own."""
    return "\n".join(printable(line) for line in text.split("\n"))


def _escaped(letter: str) -> str:
    if 0xDC80 <= ord(letter) <= 0xDCFF:
        return f"\\x{ord(letter) - 0xDC00:02x}"
    return letter.encode("unicode_escape").decode("ascii")
