"""Names made to be run, printed, joined or not to fit; and links, loops and pipes that must not be opened."""

from __future__ import annotations

import os
import re
import stat
from collections.abc import Callable, Iterator
from pathlib import Path

from tests.gate.hostile_case import OBJ, Case, crate, folder, good_map

RUNNABLE = (
    "$(touch PWNED)",
    "`touch PWNED`",
    "; touch PWNED;",
    "| touch PWNED",
    "&& touch PWNED",
    "{{ 7 * 7 }}",
    "{% raw %}",
    "${HOME}",
    "%s%s%n",
    "<script>alert(1)</script>",
    "'; DROP TABLE handed; --",
    '" onload="x',
)
UNPORTABLE = (
    "CON",
    "aux",
    "nul.wood",
    "com1",
    "trailing.",
    "trailing ",
    " leading",
    "line\nbreak",
    "bell\x07",
    "esc\x1b[31mred",
    "back\\slash",
    "co:lon",
    "star*",
    "ques?tion",
    "right\u202eleft",
)


PORTABLE = ("trailing..txt",)  # with its ending it is an ordinary name


def name_cases() -> Iterator[Case]:
    yield from _file_names()
    yield from _folder_names()
    yield from _not_files()
    yield from _forged()


def _file_names() -> Iterator[Case]:
    for number, text in enumerate((*RUNNABLE, *UNPORTABLE)):
        name = f"furniture_name{number:02d}"
        safe = text.replace("/", "-")
        files = {f"{name}.glb": crate().glb(), "crate_base_color.png": good_map(), f"{safe}.txt": b"%d" % number}
        kind = "stray-file" if f"{safe}.txt" in PORTABLE else "unportable-name"
        yield folder(name, f"^{kind}: .*{re.escape(safe)}", files)
        name = f"furniture_mesh{number:02d}"
        kind = "missing-texture-file" if f"{safe}.txt" in PORTABLE else "unportable-name"
        yield folder(name, f"^{kind}: .*{re.escape(safe)}", {f"{safe}.obj": OBJ + b"# %d\n" % number})


def _folder_names() -> Iterator[Case]:
    long = "furniture_" + "x" * 230
    mtl = r"^missing-texture-file: .*material library `crate\.mtl`, which is not in the drop"
    yield Case("longfolder", long, mtl, {f"{long}/{long}.obj": OBJ})
    wide = "furniture_" + "\u8239" * 78
    yield Case("widefolder", wide, mtl, {f"{wide}/{wide}.obj": OBJ + b"#\n"})
    deep = "/".join(["furniture_deep", *(["d" * 100] * 20)])
    yield Case("deepfolder", "furniture_deep", mtl, {f"{deep}/furniture_deep.obj": OBJ + b"##\n"})
    for number, raw in enumerate((b"\xff\xfe", b"\xc3", b"caf\xe9", b"\xed\xa0\x80")):
        files: dict[str | bytes, bytes] = {
            b"furniture_raw%d/furniture_" % number + raw + b".obj": OBJ + b"#raw%d\n" % number,
            b"furniture_raw%d/" % number + raw + b"/" + raw + b".png": good_map() + b"%d" % number,
        }
        told = "^unportable-name: .*holds bytes that are not UTF-8"
        yield Case(f"raw{number}", f"furniture_raw{number}", told, files)
    for number, name in enumerate(("$(touch PWNED)", "{{ 7 * 7 }}", "-rf", "..hidden", "line\nbreak", "\x1b[31m")):
        yield Case(f"oddfolder{number}", name, mtl, {f"{name}/a{number}.obj": OBJ + b"#odd%d\n" % number})


def _not_files() -> Iterator[Case]:
    def link(to: str) -> Callable[[Path, str], None]:
        return lambda at, name: os.symlink(to, at / name)

    makes: dict[str, Callable[[Path, str], None]] = {
        "self": lambda at, name: os.symlink(at / name, at / name),
        "parent": link(".."),
        "here": link("."),
        "passwd": link("/etc/passwd"),
        "secret": link("../../../secret.png"),
        "root": link("/"),
        "dangling": link("nowhere.png"),
        "pipe": lambda at, name: os.mkfifo(at / name),
        "zero": link("/dev/zero"),
        "socket": lambda at, name: os.mknod(at / name, stat.S_IFSOCK | 0o600),
    }
    if os.geteuid() == 0:  # nobody else may make a device
        makes["device"] = lambda at, name: os.mknod(at / name, stat.S_IFCHR | 0o600, os.makedev(1, 5))
    for word, make in makes.items():
        name = f"furniture_odd{word}"

        def more(inbox: Path, name: str = name, make: Callable[[Path, str], None] = make) -> None:
            make(inbox / name, "crate_base_color.png")

        told = r"^left-in-inbox: .*crate_base_color\.png is a link or a special file"
        yield Case(word, name, told, {f"{name}/{name}.glb": crate().glb()}, "returned", more)
    for word, make in makes.items():
        yield Case(
            f"alone{word}", f"alone{word}", "", {}, "", lambda inbox, m=make, w=word: m(inbox, f"alone{w}.glb"), True
        )


def _forged() -> Iterator[Case]:
    """Files under our own names: they must neither be believed nor lost."""
    for number, data in enumerate(
        (
            b"[" * 100_000 + b"]" * 100_000,
            b'{"schema": "tidegate-handed-1"}',
            b'{"schema": "tidegate-handed-1", "ticket": "../../x", "part": 1}',
            b"\0" * 100,
            b"",
        )
    ):
        name = f"furniture_forged{number}"
        files = {
            f"{name}.glb": crate().glb(),
            "crate_base_color.png": good_map(),
            "handed.tidegate.json": data + b" ",
            "manifest-sha256.txt": b"0" * 64 + b"  ../../secret.png\n",
            f"{name}.tidegate.json": b"{}",
        }
        yield folder(name, "^map-size-out-of-range: .*64 x 64", files)  # judged as the prop it is
