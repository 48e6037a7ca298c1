"""Runs a command as a unit file would have it run: `python cage.py UNIT WRITABLE... -- COMMAND...`.

What the service manager does with a unit's sandbox is done here by the same means of the kernel, as far as it can be
without it: environment, umask, limits, no new privileges, no capability, system calls, address families, memory that is
never both written and run, no network, and a file system that can be written only in WRITABLE. What needs root is left
out for another user, and said; where root may not raise a limit either, a capability stands in for it, which is said
too. Devices (a control group's affair) and users are left as they are.
"""

from __future__ import annotations

import ctypes
import os
import re
import resource
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

LIBC = ctypes.CDLL(None, use_errno=True)
PR_SET_NO_NEW_PRIVS, PR_CAPBSET_DROP, PR_SET_MDWE = 38, 24, 65
CLONE_NEWNS, CLONE_NEWNET = 0x00020000, 0x40000000
MS_BIND, MS_REC, MS_PRIVATE = 4096, 16384, 1 << 18
SYS_MOUNT_SETATTR, AT_RECURSIVE, AT_FDCWD, RDONLY = 442, 0x8000, -100, 1
SCMP_ALLOW, SCMP_EPERM, SCMP_CMP_EQ = 0x7FFF0000, 0x00050001, 4
FAMILIES = {"AF_UNIX": 1, "AF_NETLINK": 16}
SIZES = {"K": 10, "M": 20, "G": 30}
CAP_IPC_LOCK, CAP_SYS_NICE = 14, 23
LIMITS = {
    "LimitRTPRIO": (resource.RLIMIT_RTPRIO, CAP_SYS_NICE),
    "LimitMEMLOCK": (resource.RLIMIT_MEMLOCK, CAP_IPC_LOCK),
}
"""Each limit, and the capability that is left in its place where this machine does not let it be raised."""


def settings(unit: Path) -> dict[str, list[str]]:
    """A unit's settings in [Service], each with all its values in order."""
    found: dict[str, list[str]] = {}
    section = ""
    for line in unit.read_text().splitlines():
        if line.startswith("["):
            section = line
        elif section == "[Service]" and "=" in line and not line.startswith("#"):
            key, _, value = line.partition("=")
            found.setdefault(key, []).append(value)
    return found


def environment(told: dict[str, list[str]]) -> dict[str, str]:
    """What the unit puts into the environment; PATH is the manager's own default."""
    pairs = [pair for value in told.get("Environment", []) for pair in value.split()]
    path = "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin"
    return {"PATH": path, "LANG": "C.UTF-8", **dict(pair.split("=", 1) for pair in pairs)}


def calls(told: dict[str, list[str]]) -> set[str]:
    """The system calls that the filter leaves: later lines add or, with ~, take away; groups by the manager's list."""
    allowed = {"execve", "exit", "exit_group", "rt_sigreturn"}
    for value in told["SystemCallFilter"]:
        names = {name for word in value.removeprefix("~").split() for name in group(word)}
        allowed = allowed - names if value.startswith("~") else allowed | names
    return allowed


def group(word: str) -> Iterable[str]:
    """A call, or those of a group and of the groups in it."""
    if not word.startswith("@"):
        return [word]
    ran = subprocess.run(["systemd-analyze", "syscall-filter", word], capture_output=True, text=True, check=True)
    inside = [line.strip() for line in ran.stdout.splitlines()[1:]]
    return [name for one in inside if one and not one.startswith("#") for name in group(one)]


class Compare(ctypes.Structure):
    _fields_ = [("arg", ctypes.c_uint), ("op", ctypes.c_int), ("a", ctypes.c_uint64), ("b", ctypes.c_uint64)]


def filter_calls(allowed: set[str], families: set[int]) -> None:
    seccomp = ctypes.CDLL("libseccomp.so.2")
    seccomp.seccomp_init.restype = ctypes.c_void_p
    context = ctypes.c_void_p(seccomp.seccomp_init(SCMP_EPERM))
    for name in sorted(allowed - {"socket"}):
        number = seccomp.seccomp_syscall_resolve_name(name.encode())
        if number >= 0:
            done(seccomp.seccomp_rule_add_array(context, SCMP_ALLOW, number, 0, None), name)
    number = seccomp.seccomp_syscall_resolve_name(b"socket")
    for family in families:
        rule = ctypes.byref(Compare(0, SCMP_CMP_EQ, family, 0))
        done(seccomp.seccomp_rule_add_array(context, SCMP_ALLOW, number, 1, rule), "socket")
    done(seccomp.seccomp_load(context), "the filter")


def done(status: int, what: str) -> None:
    if status:
        raise SystemExit(f"cage: {what}: {os.strerror(ctypes.get_errno() or -status)}")


def prctl(option: int, value: int) -> int:
    return LIBC.prctl(option, ctypes.c_ulong(value), ctypes.c_ulong(0), ctypes.c_ulong(0), ctypes.c_ulong(0))


def shut(writable: list[str]) -> None:
    """No network, and a file system that can be read."""
    done(LIBC.unshare(CLONE_NEWNS | CLONE_NEWNET), "unshare")
    done(LIBC.mount(None, b"/", None, ctypes.c_ulong(MS_REC | MS_PRIVATE), None), "mount /")
    for path in writable:
        done(LIBC.mount(path.encode(), path.encode(), None, ctypes.c_ulong(MS_BIND), None), f"mount {path}")
    for path, setting, clearing, how in [("/", RDONLY, 0, AT_RECURSIVE), *((path, 0, RDONLY, 0) for path in writable)]:
        attributes = (ctypes.c_uint64 * 4)(setting, clearing, 0, 0)
        status = LIBC.syscall(SYS_MOUNT_SETATTR, AT_FDCWD, path.encode(), how, ctypes.byref(attributes), 32)
        done(status, f"mount_setattr {path}")


def limit(told: dict[str, list[str]]) -> set[int]:
    """Set the unit's limits; the capabilities that stand in for those that could not be raised."""
    instead = set()
    for key, (which, capability) in LIMITS.items():
        for value in told.get(key, []):
            size = int(re.sub("[KMG]$", "", value)) << SIZES.get(value[-1], 0)
            try:
                resource.setrlimit(which, (size, size))
            except ValueError:
                sys.stderr.write(f"cage: {key}={value} may not be set here\n")
                instead.add(capability)
    return instead


def main(unit: Path, writable: list[str], command: list[str]) -> None:
    told = settings(unit)
    allowed = calls(told)
    instead = limit(told)
    os.umask(int(told["UMask"][0], 8))
    if os.geteuid() == 0:
        shut(writable)
        for capability in set(range(64)) - instead:
            prctl(PR_CAPBSET_DROP, capability)
    else:
        sys.stderr.write("cage: not root: network, files and capabilities are as they were\n")
    done(prctl(PR_SET_NO_NEW_PRIVS, 1), "no new privileges")
    if told["MemoryDenyWriteExecute"] == ["yes"]:
        done(prctl(PR_SET_MDWE, 1), "MemoryDenyWriteExecute needs Linux 6.3")
    filter_calls(allowed, {FAMILIES[name] for name in told["RestrictAddressFamilies"][0].split()})
    os.execvp(command[0], command)


if __name__ == "__main__":
    split = sys.argv.index("--")
    main(Path(sys.argv[1]), sys.argv[2:split], sys.argv[split + 1 :])
