"""Archives that climb out, swell, link, or end early."""

from __future__ import annotations

import gzip
import io
import os
import random
import re
import stat
import tarfile
import zipfile
from collections.abc import Callable, Iterator

from tests.gate.hostile_case import Case, crate, good_map

OUT = (
    "../slip.glb",
    "../../../../slip.glb",
    "maps/../../../slip.glb",
    "/slip.glb",
    "//server/slip.glb",
    "C:/slip.glb",
    "C:slip.glb",
    "..\\..\\slip.glb",
    "\\\\server\\share\\slip.glb",
    "..",
)
ASIDE = "unjudged"


def archive_cases() -> Iterator[Case]:
    yield from _slips()
    yield from _swollen()
    yield from _kinds()
    yield from _odd_names()
    yield from _cut()


def _case(name: str, told: str, data: bytes | Callable[[], bytes], suffix: str = "zip", verdict: str = ASIDE) -> Case:
    return Case(name, f"furniture_{name}", told, {f"furniture_{name}.{suffix}": data}, verdict)


def zipped(members: dict[str, bytes], **flags: int) -> bytes:
    """flags: name (with dots as `_`) is not needed; `mode` and `encrypted` hold for every member."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in members.items():
            info = zipfile.ZipInfo("x")
            info.filename = name
            info.compress_type = zipfile.ZIP_DEFLATED
            info.external_attr = flags.get("mode", 0) << 16
            packed.writestr(info, data)
    whole = out.getvalue()
    if flags.get("encrypted"):
        at = whole.index(b"PK\x01\x02") + 8
        whole = whole[:at] + b"\x01\x00" + whole[at + 2 :]
    return whole


def tarred(members: dict[str, bytes], kind: bytes = tarfile.REGTYPE, link: str = "") -> bytes:
    out = io.BytesIO()
    with tarfile.open(fileobj=out, mode="w:gz") as packed:
        for name, data in members.items():
            info = tarfile.TarInfo(name)
            info.type, info.linkname, info.size = kind, link, len(data) if kind == tarfile.REGTYPE else 0
            packed.addfile(info, io.BytesIO(data) if kind == tarfile.REGTYPE else None)
    return out.getvalue()


def _slips() -> Iterator[Case]:
    for number, name in enumerate(OUT):
        told = "^aside: a member leads outside the archive"
        yield _case(f"slipzip{number}", told, zipped({"a.glb": b"1", name: b"x"}))
        yield _case(f"sliptar{number}", told, tarred({"a.glb": b"1", name: b"x"}), "tar.gz")


def _swollen() -> Iterator[Case]:
    told = "^aside: the archive unpacks to more than the limits allow"
    yield _case("bombzip", told, lambda: zipped({"a.glb": bytes(64 << 20)}))
    yield _case("bombtar", told, lambda: tarred({"a.glb": bytes(64 << 20)}), "tar.gz")
    yield _case("ratiozip", told, zipped({"a.glb": bytes(4 << 20)}))
    yield _case("manyzip", told, zipped({f"a{n}.glb": b"" for n in range(51)}))
    yield _case("manytar", told, tarred({f"a{n}.glb": b"" for n in range(51)}), "tar.gz")
    yield _case("deepzip", told, zipped({"a/b/c/d/e/f/g.glb": b"1"}))
    yield _case("deeptar", told, tarred({"a/b/c/d/e/f/g.glb": b"1"}), "tar.gz")
    lies = zipped({"a.glb": bytes(2 << 20)}).replace((2 << 20).to_bytes(4, "little"), (100).to_bytes(4, "little"))
    yield _case("liezip", "^aside: ", lies)
    yield _case("gzipsgz", "^aside: ", gzip.compress(b"") * 1000, "tar.gz")


def _kinds() -> Iterator[Case]:
    told = "^aside: a member is a link or device"
    yield _case("linkzip", told, zipped({"a.glb": b"/etc/passwd"}, mode=stat.S_IFLNK | 0o777))
    yield _case("devicezip", told, zipped({"a.glb": b""}, mode=stat.S_IFCHR | 0o666))
    yield _case("pipezip", told, zipped({"a.glb": b""}, mode=stat.S_IFIFO | 0o666))
    kinds = {"sym": tarfile.SYMTYPE, "hard": tarfile.LNKTYPE, "chr": tarfile.CHRTYPE, "blk": tarfile.BLKTYPE}
    kinds["fifo"] = tarfile.FIFOTYPE
    for name, kind in kinds.items():
        yield _case(f"{name}tar", told, tarred({"a.glb": b""}, kind, "../../secret.png"), "tar.gz")
    yield _case("secretzip", "^aside: a member is encrypted", zipped({"a.glb": b"1"}, encrypted=1))
    yield _case("doublezip", "^aside: two members have one name", zipped({"a.glb": b"1", "A.glb": b"2"}))
    yield _case("doubletar", "^aside: two members have one name", tarred({"a.glb": b"1", "./a.glb": b"2"}), "tar.gz")
    yield _case(
        "bothzip", "^aside: a member's name is a file and a folder|could not", zipped({"a": b"1", "a/b.glb": b"2"})
    )
    for number, part in enumerate(("x" * 252, "x" * 300, "船" * 90)):  # with `.glb` 256, 304 and 274 bytes; 255 fit
        yield _case(f"longzip{number}", "^aside: a member's name is too long", zipped({f"a/{part}.glb": b"1"}))
        yield _case(
            f"longtar{number}", "^aside: a member's name is too long", tarred({f"a/{part}.glb": b"1"}), "tar.gz"
        )
    yield _case("emptyzip", "^aside: the archive holds no file", zipped({}))
    yield _case("nozip", "^aside: the archive cannot be unpacked", b"no zip at all")
    yield _case("notar", "^aside: the archive cannot be unpacked", gzip.compress(b"no tar at all" * 99), "tar.gz")
    inner = zipped({"a.glb": b"1"})
    # An archive in an archive is not unpacked: it is a file like any other, of a drop that holds nothing to judge.
    yield _case("nestedzip", "^aside: holds neither a mesh nor a map", zipped({"furniture_inner.zip": inner}))


def _odd_names() -> Iterator[Case]:
    """Names that this disk holds and another would not: judged as the drop they are, and told by name."""
    names = {"device": "CON.txt", "dot": "wood.", "space": "wood ", "bytes": os.fsdecode(b"caf\xe9.txt")}
    for word, name in names.items():
        members = {f"furniture_{word}.glb": crate().glb(), "crate_base_color.png": good_map(), name: word.encode()}
        told = "^unportable-name: .*" + ("caf.* holds bytes that are not UTF-8" if word == "bytes" else re.escape(name))
        if word != "bytes":  # a ZIP has no such names: what is no UTF-8 is read as code page 437
            yield _case(f"odd{word}zip", told, zipped(members), verdict="returned")
        yield _case(f"odd{word}tar", told, tarred(members), "tar.gz", verdict="returned")
    told = "^aside: the archive unpacks to more than the limits allow"
    for word, kind in {"pax": tarfile.XHDTYPE, "longname": tarfile.GNUTYPE_LONGNAME}.items():
        head = tarfile.TarInfo("x")
        head.type, head.size = kind, 64 << 20
        data = gzip.compress(head.tobuf(tarfile.USTAR_FORMAT) + bytes(b"a" * (64 << 20)), 1)
        yield _case(f"huge{word}tar", told, data, "tar.gz")


def _cut() -> Iterator[Case]:
    members = {"furniture_crate.glb": crate().glb(), "crate_base_color.png": good_map()}
    rng = random.Random(17)
    for suffix, data in (("zip", zipped(members)), ("tar.gz", tarred(members))):
        for cut in sorted({0, 1, 10, len(data) - 1, *rng.sample(range(20, len(data) - 1), 12)}):
            name = f"cut{suffix[:3]}{cut:05d}"
            yield _case(name, "^aside: the archive cannot be unpacked", data[:cut], suffix)
        for at in sorted(rng.sample(range(60, len(data) - 200), 8)):
            flipped = bytearray(data)
            flipped[at] ^= 0x10
            yield _case(f"flip{suffix[:3]}{at:05d}", "^aside: ", bytes(flipped), suffix)
