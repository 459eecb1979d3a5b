"""On what kind of disk a folder lies: the store's write-ahead log wants one of this machine's own.

SQLite's documentation: "WAL does not work over a network filesystem", for its processes share memory
(https://www.sqlite.org/wal.html, section 1). Linux tells its mounts in /proc/self/mountinfo, see proc_pid_mountinfo(5).
"""

from __future__ import annotations

import re
from pathlib import Path

MOUNTS = Path("/proc/self/mountinfo")
#: Kinds that other machines write to as well, as Linux names them.
NETWORK = frozenset(
    {
        "9p",
        "afs",
        "ceph",
        "cifs",
        "coda",
        "davfs",
        "gfs2",
        "glusterfs",
        "gpfs",
        "lustre",
        "ncpfs",
        "nfs",
        "nfs4",
        "ocfs2",
        "smb3",
        "smbfs",
        "fuse.ceph",
        "fuse.cephfs",
        "fuse.davfs2",
        "fuse.glusterfs",
        "fuse.gvfsd-fuse",
        "fuse.mfs",
        "fuse.moosefs",
        "fuse.rclone",
        "fuse.s3fs",
        "fuse.smbnetfs",
        "fuse.sshfs",
    }
)


def network_kind(folder: Path) -> str:
    """The kind of the network's file system that a folder lies on; "": on none, or this system does not tell.

    folder: need not exist yet.
    """
    try:
        lines = MOUNTS.read_text(encoding="utf-8", errors="surrogateescape").splitlines()
    except OSError:
        return ""
    inside, kind = folder.resolve(), ""
    longest = -1
    for line in lines:
        before, _, after = line.partition(" - ")
        fields, kinds = before.split(" "), after.split(" ")
        if len(fields) < 5 or not after:
            continue
        point = Path(_unescape(fields[4]))
        if inside.is_relative_to(point) and len(point.parts) >= longest:  # of two at one place the later lies on top
            longest, kind = len(point.parts), kinds[0]
    return kind if kind in NETWORK else ""


def _unescape(text: str) -> str:
    r"""Blanks and the like are written as \040."""
    return re.sub(r"\\([0-7]{3})", lambda found: chr(int(found[1], 8)), text)
