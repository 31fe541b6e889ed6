"""One map statement of a material library: options, then a file name.

"Options and their arguments are inserted between the keyword and the filename", and the second and third number of
-o, -s and -t may be left out (MTL file format 4.2, 1995, texture map statements). So numbers are
taken up to the first word that is none. File names with blanks are not foreseen there, yet common: whatever
follows the options is the name, as a whole.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from tidegate.model.mesh import UvTransform

_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?$")
_WORD = re.compile(r"\S+")
_SWITCH = frozenset({"on", "off"})

# Keyword in lower case: neutral slot, and the channels it reads where the statement does not say.
# The first ten are in the text; norm, map_ke and the map_p.. statements are later additions (from memory).
# A scalar map reads the luminance, which in a grey picture is the value of any one channel: "r".
SLOTS: dict[str, tuple[str, str]] = {
    "map_ka": ("ambient", "rgb"),
    "map_kd": ("base_color", "rgb"),
    "map_ks": ("specular", "rgb"),
    "map_ns": ("gloss", "r"),
    "map_d": ("opacity", "r"),
    "disp": ("height", "r"),
    "decal": ("decal", "rgb"),
    "bump": ("height", "r"),
    "map_bump": ("height", "r"),
    "refl": ("reflection", "rgb"),
    "map_disp": ("height", "r"),
    "map_refl": ("reflection", "rgb"),
    "map_tr": ("opacity", "r"),
    "map_opacity": ("opacity", "r"),
    "map_ke": ("emission", "rgb"),
    "norm": ("normal", "rgb"),
    "map_norm": ("normal", "rgb"),
    "map_kn": ("normal", "rgb"),
    "map_pr": ("roughness", "r"),
    "map_pm": ("metalness", "r"),
    "map_ps": ("sheen", "rgb"),
    "map_pc": ("clearcoat", "r"),
    "map_pcr": ("clearcoat_roughness", "r"),
    "map_ao": ("occlusion", "r"),
}
_CHANNELS = {"r": "r", "g": "g", "b": "b", "m": "a", "l": "rgb"}  # m: matte; l: luminance, made of all three


@dataclass(frozen=True, slots=True)
class _Option:
    """least, most: how many arguments. words: what they may be; None: numbers."""

    least: int
    most: int
    words: frozenset[str] | None = None


_OPTIONS = {
    "-blendu": _Option(1, 1, _SWITCH),
    "-blendv": _Option(1, 1, _SWITCH),
    "-bm": _Option(1, 1),
    "-boost": _Option(1, 1),
    "-cc": _Option(1, 1, _SWITCH),
    "-clamp": _Option(1, 1, _SWITCH),
    "-imfchan": _Option(1, 1, frozenset("rgbmlz")),
    "-mm": _Option(1, 2),
    "-o": _Option(1, 3),
    "-s": _Option(1, 3),
    "-t": _Option(1, 3),
    "-texres": _Option(1, 1),
    "-type": _Option(
        1,
        1,
        frozenset({"sphere", "cube_top", "cube_bottom", "cube_front", "cube_back", "cube_left", "cube_right"}),
    ),
}


@dataclass(frozen=True, slots=True)
class MapStatement:
    """file: the name as written, blanks around cut. options: (option without its dash, arguments) in file order.

    incomplete: options whose arguments are missing or are none of the words allowed.
    """

    file: str
    options: tuple[tuple[str, str], ...]
    incomplete: tuple[str, ...] = ()

    def channels(self, usual: str) -> str:
        """Channels the statement reads, `usual` where it does not say."""
        return _CHANNELS.get(dict(self.options).get("imfchan", ""), usual)

    def wrap(self) -> tuple[str, str]:
        """Repeated unless -clamp is on."""
        side = "clamp" if dict(self.options).get("clamp") == "on" else "repeat"
        return side, side

    def transform(self) -> UvTransform | None:
        """The picture is read at scale x uv + offset (-s, -o); None when that changes nothing.

        The text does not give the formula; this reading is common practice, no source. -t (turbulence) is noise
        and no linear map: it stays among the options.
        """
        told = dict(self.options)
        across, up = _pair(told.get("s", ""), 1.0)
        right, rise = _pair(told.get("o", ""), 0.0)
        if (across, up, right, rise) == (1.0, 1.0, 0.0, 0.0):
            return None
        return UvTransform(((across, 0.0, right), (0.0, up, rise)))


def parse_map(rest: str) -> MapStatement:
    """Reads what follows the keyword of a map statement. Never raises; a name that is not there is ""."""
    options, incomplete, at = _options(rest, 0)
    file = rest[at:].strip()
    if not options:
        # Some exporters write the options behind the name. Only a tail that is nothing but options counts as such.
        for word in _WORD.finditer(file):
            if word.start() and word[0].lower() in _OPTIONS:
                behind, wrong, end = _options(file, word.start())
                if not wrong and not file[end:].strip():
                    return MapStatement(file[: word.start()].strip(), behind)
    return MapStatement(file, options, incomplete)


def unquoted(name: str) -> str:
    """The name without the quotation marks some exporters put around it."""
    if len(name) >= 2 and name[0] == name[-1] and name[0] in "\"'":
        return name[1:-1].strip()
    return name


def _options(text: str, at: int) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...], int]:
    """Options from a place on, those that are incomplete, and where they end."""
    found: list[tuple[str, str]] = []
    incomplete: list[str] = []
    while True:
        word = _WORD.search(text, at)
        if word is None or word[0].lower() not in _OPTIONS:
            return tuple(found), tuple(incomplete), at
        option = _OPTIONS[word[0].lower()]
        at = word.end()
        values: list[str] = []
        while len(values) < option.most:
            value = _WORD.search(text, at)
            if value is None or not _fits(option, value[0]):
                break
            values.append(value[0] if option.words is None else value[0].lower())
            at = value.end()
        if len(values) < option.least:
            incomplete.append(word[0])
        found.append((word[0].lower()[1:], " ".join(values)))


def _fits(option: _Option, word: str) -> bool:
    return _NUMBER.match(word) is not None if option.words is None else word.lower() in option.words


def _pair(arguments: str, left_out: float) -> tuple[float, float]:
    numbers = [float(word) for word in arguments.split()[:2]]
    return (numbers[0] if numbers else left_out, numbers[1] if len(numbers) > 1 else left_out)
