"""A filter of system calls (Linux, seccomp(2)) for a process that computes: bytes in by one socket, bytes out.

What it refuses answers "not permitted" rather than ending the process, so that a library that merely tries goes on.
Numbers: the kernel's asm/unistd_64.h (x86-64) and asm-generic/unistd.h (aarch64), as of Linux 6.1; later calls are
refused as unknown. The filter's language: linux/filter.h, linux/seccomp.h, linux/audit.h.
"""

from __future__ import annotations

import ctypes
import errno
import os
import struct
import sys

#: Name: numbers on x86-64 and aarch64; -1: the machine has no such call.
_REFUSED = {
    # reaching somebody: no socket but the one it has
    "socket": (41, 198),
    "socketpair": (53, 199),
    "connect": (42, 203),
    "bind": (49, 200),
    "listen": (50, 201),
    "accept": (43, 202),
    "accept4": (288, 242),
    "shmget": (29, 194),
    "shmat": (30, 196),
    "semget": (64, 190),
    "msgget": (68, 186),
    "msgsnd": (69, 189),
    "mq_open": (240, 180),
    "mq_unlink": (241, 181),
    "mq_notify": (244, 184),
    # starting programs and processes; looking into others
    "execve": (59, 221),
    "execveat": (322, 281),
    "fork": (57, -1),
    "vfork": (58, -1),
    "ptrace": (101, 117),
    "process_vm_readv": (310, 270),
    "process_vm_writev": (311, 271),
    "kcmp": (312, 272),
    "pidfd_open": (434, 434),
    "pidfd_getfd": (438, 438),
    "pidfd_send_signal": (424, 424),
    "process_madvise": (440, 440),
    "process_mrelease": (448, 448),
    "tkill": (200, 130),
    "setpriority": (141, 140),
    "ioprio_set": (251, 30),
    "sched_setscheduler": (144, 119),
    "sched_setparam": (142, 118),
    "sched_setattr": (314, 274),
    "sched_setaffinity": (203, 122),
    "migrate_pages": (256, 238),
    "move_pages": (279, 239),
    # changing files, their names, dates and rights: Landlock does not rule all of these
    "creat": (85, -1),
    "truncate": (76, 45),
    "chmod": (90, -1),
    "fchmod": (91, 52),
    "fchmodat": (268, 53),
    "chown": (92, -1),
    "lchown": (94, -1),
    "fchown": (93, 55),
    "fchownat": (260, 54),
    "utime": (132, -1),
    "utimes": (235, -1),
    "futimesat": (261, -1),
    "utimensat": (280, 88),
    "setxattr": (188, 5),
    "lsetxattr": (189, 6),
    "fsetxattr": (190, 7),
    "removexattr": (197, 14),
    "lremovexattr": (198, 15),
    "fremovexattr": (199, 16),
    "link": (86, -1),
    "linkat": (265, 37),
    "symlink": (88, -1),
    "symlinkat": (266, 36),
    "rename": (82, -1),
    "renameat": (264, 38),
    "renameat2": (316, 276),
    "unlink": (87, -1),
    "unlinkat": (263, 35),
    "rmdir": (84, -1),
    "mkdir": (83, -1),
    "mkdirat": (258, 34),
    "mknod": (133, -1),
    "mknodat": (259, 33),
    "memfd_create": (319, 279),
    "memfd_secret": (447, 447),
    # other rights, other roots
    "setuid": (105, 146),
    "setgid": (106, 144),
    "setreuid": (113, 145),
    "setregid": (114, 143),
    "setresuid": (117, 147),
    "setresgid": (119, 149),
    "setgroups": (116, 159),
    "setfsuid": (122, 151),
    "setfsgid": (123, 152),
    "capset": (126, 91),
    "unshare": (272, 97),
    "setns": (308, 268),
    "chroot": (161, 51),
    "pivot_root": (155, 41),
    "mount": (165, 40),
    "umount2": (166, 39),
    "open_tree": (428, 428),
    "move_mount": (429, 429),
    "fsopen": (430, 430),
    "fsconfig": (431, 431),
    "fsmount": (432, 432),
    "fspick": (433, 433),
    "mount_setattr": (442, 442),
    "name_to_handle_at": (303, 264),
    "open_by_handle_at": (304, 265),
    "personality": (135, 92),
    # doors into the kernel that a computation has no use for
    "bpf": (321, 280),
    "userfaultfd": (323, 282),
    "perf_event_open": (298, 241),
    "io_uring_setup": (425, 425),
    "io_uring_enter": (426, 426),
    "io_uring_register": (427, 427),
    "io_setup": (206, 0),
    "add_key": (248, 217),
    "request_key": (249, 218),
    "keyctl": (250, 219),
    "splice": (275, 76),
    "vmsplice": (278, 75),
    "tee": (276, 77),
    "fanotify_init": (300, 262),
    "fanotify_mark": (301, 263),
    "inotify_init": (253, -1),
    "inotify_init1": (294, 26),
    "init_module": (175, 105),
    "finit_module": (313, 273),
    "delete_module": (176, 106),
    "kexec_load": (246, 104),
    "kexec_file_load": (320, 294),
    "reboot": (169, 142),
    "swapon": (167, 224),
    "swapoff": (168, 225),
    "acct": (163, 89),
    "syslog": (103, 116),
    "quotactl": (179, 60),
    "quotactl_fd": (443, 443),
    "iopl": (172, -1),
    "ioperm": (173, -1),
    "modify_ldt": (154, -1),
    "uselib": (134, -1),
    "vhangup": (153, 58),
    "settimeofday": (164, 170),
    "clock_settime": (227, 112),
    "clock_adjtime": (305, 266),
    "adjtimex": (159, 171),
    "sethostname": (170, 161),
    "setdomainname": (171, 162),
}
#: As if the system did not know them: libraries then take the older call, whose arguments a filter can see.
_UNKNOWN = {"clone3": (435, 435), "openat2": (437, 437)}
_KILL, _TGKILL, _SIGQUEUE, _TGSIGQUEUE = (62, 129), (234, 131), (129, 138), (297, 240)
_CLONE, _OPEN, _OPENAT, _PRLIMIT, _PRCTL, _FCNTL, _IOCTL = (
    (56, 220),
    (2, -1),
    (257, 56),
    (302, 261),
    (157, 167),
    (72, 25),
    (16, 29),
)
#: The last call of Linux 6.1 on both.
_LAST = 451
#: os.uname().machine: AUDIT_ARCH_* of linux/audit.h, and the place in the pairs above.
_MACHINES = {"x86_64": (0xC000003E, 0), "aarch64": (0xC00000B7, 1)}
#: linux/sched.h; asm-generic/fcntl.h: O_WRONLY, O_RDWR, O_CREAT, O_TRUNC, O_APPEND.
_CLONE_THREAD, _WRITING = 0x10000, 0o1 | 0o2 | 0o100 | 0o1000 | 0o2000
#: fcntl.h: F_SETOWN, F_SETSIG, F_SETOWN_EX; asm-generic/sockios.h: FIOSETOWN, SIOCSPGRP. Each has signals sent.
_OWNERS, _SOCKET_OWNERS = (8, 10, 15), (0x8901, 0x8902)
_PR_SET_PDEATHSIG, _PR_SET_SECCOMP, _PR_SET_NO_NEW_PRIVS, _MODE_FILTER = 1, 22, 38, 2
_LOAD, _EQUAL, _GREATER, _AT_LEAST, _ANY_BIT, _RETURN = 0x20, 0x15, 0x25, 0x35, 0x45, 0x06
_ALLOW, _END, _ERROR = 0x7FFF0000, 0x80000000, 0x00050000
_NOT_PERMITTED, _NO_SUCH_CALL = _ERROR | errno.EPERM, _ERROR | errno.ENOSYS
#: The 32-bit calls of x86-64 (x32) bear this bit.
_X32 = 0x40000000


def refuse_calls(own_pid: int) -> bool:
    """Filter the calls of this process from now on, of all threads that it starts. False where that cannot be had.

    own_pid: the one process that it may signal or limit.
    """
    machine = _MACHINES.get(os.uname().machine)
    if machine is None or sys.byteorder != "little" or ctypes.sizeof(ctypes.c_void_p) != 8:
        return False
    code = b"".join(_program(own_pid, *machine))
    buffer = ctypes.create_string_buffer(code, len(code))
    head = struct.pack("@HP", len(code) // 8, ctypes.addressof(buffer))  # struct sock_fprog
    try:
        system = ctypes.CDLL(None, use_errno=True)
        system.prctl(_PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0)
        return bool(system.prctl(_PR_SET_SECCOMP, _MODE_FILTER, head, 0, 0) == 0)
    except (OSError, AttributeError):
        return False


def _program(own_pid: int, architecture: int, place: int) -> list[bytes]:
    """struct seccomp_data: the call's number at 0, the machine at 4, arguments of 8 bytes from 16, low half first."""
    made = [
        _step(_LOAD, 4),
        _step(_EQUAL, architecture, 1, 0),
        _step(_RETURN, _END),
        _step(_LOAD, 0),
        _step(_AT_LEAST, _X32, 0, 1),
        _step(_RETURN, _END),
        _step(_GREATER, _LAST, 0, 1),
        _step(_RETURN, _NO_SUCH_CALL),
    ]
    for table, answer in ((_REFUSED, _NOT_PERMITTED), (_UNKNOWN, _NO_SUCH_CALL)):
        for numbers in table.values():
            if numbers[place] >= 0:
                made += [_step(_EQUAL, numbers[place], 0, 1), _step(_RETURN, answer)]
    refuse, allow = _step(_RETURN, _NOT_PERMITTED), _step(_RETURN, _ALLOW)
    for call in (_KILL, _TGKILL, _SIGQUEUE, _TGSIGQUEUE):
        made += _where(call[place], 0, [_step(_EQUAL, own_pid, 1, 0), refuse])
    made += _where(_PRLIMIT[place], 0, [_step(_EQUAL, 0, 2, 0), _step(_EQUAL, own_pid, 1, 0), refuse])
    made += _where(_CLONE[place], 0, [_step(_ANY_BIT, _CLONE_THREAD, 1, 0), refuse])
    made += _where(_OPEN[place], 1, [_step(_ANY_BIT, _WRITING, 0, 1), refuse])
    made += _where(_OPENAT[place], 2, [_step(_ANY_BIT, _WRITING, 0, 1), refuse])
    made += _where(_PRCTL[place], 0, [_step(_EQUAL, _PR_SET_PDEATHSIG, 0, 1), refuse])
    for call, values in ((_FCNTL, _OWNERS), (_IOCTL, _SOCKET_OWNERS)):
        made += _where(call[place], 1, [s for v in values for s in (_step(_EQUAL, v, 0, 1), refuse)])
    return [*made, allow]


def _where(call: int, argument: int, steps: list[bytes]) -> list[bytes]:
    """Steps that look at an argument of one call, which is allowed after them."""
    if call < 0:
        return []
    inner = [_step(_LOAD, 16 + 8 * argument), *steps, _step(_RETURN, _ALLOW)]
    return [_step(_EQUAL, call, 0, len(inner)), *inner]


def _step(code: int, value: int, if_true: int = 0, if_false: int = 0) -> bytes:
    return struct.pack("=HBBI", code, if_true, if_false, value)
