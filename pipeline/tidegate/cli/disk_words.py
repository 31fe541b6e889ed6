"""What the disk refused, in plain words. The system's own words differ from one system to the next."""

from __future__ import annotations

import errno

from tidegate.errors import AskedWrongly

_WORDS = {
    errno.ENOENT: ("is not there", "check the spelling of the path"),
    errno.EEXIST: ("is there already, and is no folder", "name another folder, or move the file away"),
    errno.ENOTDIR: ("leads through a file where a folder is wanted", "name a folder, or move the file away"),
    errno.EISDIR: ("is a folder where a file is wanted", "name a file"),
    errno.EACCES: ("may not be read or written by this account", "ask its owner for permission, or name another place"),
    errno.EPERM: ("may not be changed by this account", "ask its owner for permission, or name another place"),
    errno.EROFS: ("lies on a disk that may only be read", "name a place that may be written"),
    errno.ENOSPC: ("does not fit: the disk is full", "make room and ask again"),
    errno.EDQUOT: ("does not fit: this account has used up its share of the disk", "make room and ask again"),
    errno.ENAMETOOLONG: ("is a longer name than the disk takes", "name a shorter one"),
    errno.ELOOP: ("is a link that leads back to itself", "name the file itself"),
    errno.EIO: ("could not be read or written: the disk failed", "have the disk looked at, then ask again"),
}


def refused(problem: OSError) -> AskedWrongly:
    """The same fault in our words."""
    words, help = _WORDS.get(problem.errno or 0, ("", "check that the path is there and may be read and written"))
    return AskedWrongly(
        words or f"the system says: {problem.strerror or problem}",
        path=str(problem.filename or ""),
        done="stopped there; what was written before it stays",
        help=help,
    )
