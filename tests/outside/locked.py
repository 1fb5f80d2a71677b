"""A process without a network, which dies of every try to reach one."""

from __future__ import annotations

import ctypes
import platform
import struct
import sys

# linux/prctl.h, linux/seccomp.h, linux/filter.h, linux/audit.h
_PR_SET_NO_NEW_PRIVS, _PR_SET_SECCOMP, _MODE_FILTER = 38, 22, 2
_ALLOW, _KILL_PROCESS = 0x7FFF0000, 0x80000000
_LOAD, _IF_EQUAL, _RETURN = 0x20, 0x15, 0x06
_NUMBER, _ARCHITECTURE, _FIRST_ARGUMENT = 0, 4, 16
# By machine: its audit number, and that of the call `socket`.
_MACHINES = {"x86_64": (0xC000003E, 41), "aarch64": (0xC00000B7, 198)}
# socket.h: AF_INET, AF_INET6, AF_PACKET.
_FAMILIES = (2, 10, 17)


def can_lock() -> bool:
    """Whether there is a filter for this system."""
    return sys.platform == "linux" and platform.machine() in _MACHINES


def lock() -> None:
    """From now on this process and all that it starts are killed (SIGSYS) when they ask the system
    for a socket of the network, from whatever language.  OSError if the system has no such filter.
    """
    audit, call = _MACHINES[platform.machine()]
    rules = [
        (_LOAD, 0, 0, _ARCHITECTURE),
        (_IF_EQUAL, 0, 3 + len(_FAMILIES), audit),
        (_LOAD, 0, 0, _NUMBER),
        (_IF_EQUAL, 0, 1 + len(_FAMILIES), call),
        (_LOAD, 0, 0, _FIRST_ARGUMENT),
        *(
            (_IF_EQUAL, len(_FAMILIES) - k, 0, family)
            for k, family in enumerate(_FAMILIES)
        ),
        (_RETURN, 0, 0, _ALLOW),
        (_RETURN, 0, 0, _KILL_PROCESS),
    ]  # fmt: skip
    code = b"".join(struct.pack("HBBI", *rule) for rule in rules)
    held = ctypes.create_string_buffer(code)
    program = ctypes.create_string_buffer(struct.pack("HL", len(rules), ctypes.addressof(held)))
    call_c = ctypes.CDLL(None, use_errno=True).prctl
    for arguments in (
        (_PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0),
        (_PR_SET_SECCOMP, _MODE_FILTER, ctypes.addressof(program), 0, 0),
    ):
        if call_c(*map(ctypes.c_ulong, arguments)):
            raise OSError(ctypes.get_errno(), "the filter was refused")
