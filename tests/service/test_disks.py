"""On what disk the data folder lies. Lines of mountinfo as proc_pid_mountinfo(5) writes them."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from moondesk.service.cli.main import main
from moondesk.service.store import disks
from moondesk.service.store.disks import network_kind

MOUNTS = """\
22 1 8:1 / / rw,relatime shared:1 - ext4 /dev/sda1 rw
23 22 0:21 / /proc rw - proc proc rw
30 22 0:40 / /srv/share rw,relatime shared:9 - nfs4 10.0.0.2:/export rw,vers=4.2
31 30 8:2 / /srv/share/here rw - xfs /dev/sdb1 rw
32 22 0:41 / /mnt/the\\040office rw master:3 propagate_from:2 - cifs //office/moon rw
33 22 0:42 / /home/bo/far rw - fuse.sshfs bo@far: rw
34 22 0:43 / /mnt/c rw - 9p C:\\134 rw
35 22 0:44 / /var/lib/box rw - overlay overlay rw,lowerdir=/a
36 22 0:45 / /media/stick rw - fuseblk /dev/sdc1 rw
37 22 0:46 / /mnt/covered rw - nfs 10.0.0.2:/old rw
38 22 8:3 / /mnt/covered rw - ext4 /dev/sdd1 rw
"""


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("/srv/share/moondesk", "nfs4"),
        ("/srv/share", "nfs4"),
        ("/srv/share/here/data", ""),
        ("/srv/shared", ""),
        ("/mnt/the office/moon", "cifs"),
        ("/home/bo/far/data", "fuse.sshfs"),
        ("/home/bo/data", ""),
        ("/mnt/c/data", "9p"),
        ("/var/lib/box/data", ""),
        ("/media/stick/data", ""),
        ("/mnt/covered/data", ""),
    ],
)
def test_a_folder_of_the_network_is_told_by_its_nearest_mount(tmp_path, monkeypatch, folder, kind):
    monkeypatch.setattr(disks, "MOUNTS", tmp_path / "mountinfo")
    assert network_kind(Path(folder)) == ""  # a system without such a table
    disks.MOUNTS.write_text(MOUNTS)
    assert network_kind(Path(folder)) == kind


def test_work_refuses_a_network_file_system_and_names_the_cluster(tmp_path, monkeypatch):
    monkeypatch.setattr(disks, "MOUNTS", tmp_path / "mountinfo")
    disks.MOUNTS.write_text(f"30 22 0:40 / {tmp_path} rw - nfs 10.0.0.2:/export rw\n")
    data = tmp_path / "data"
    result = CliRunner().invoke(main, ["work", "--data", str(data)])
    assert result.exit_code == 2
    assert "lies on a network's file system (nfs)" in result.stderr
    assert "moondesk work --cluster ADDRESS" in result.stderr
    assert not data.exists()
    assert "any machine" not in CliRunner().invoke(main, ["work", "--help"]).stdout
