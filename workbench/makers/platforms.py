"""What a library was built for, told from its first bytes rather than from its name or from what a file says of it.

ELF (System V ABI, e_machine), PE/COFF (Microsoft's format specification, Machine) and Mach-O headers.
"""

import platform
import struct
import sys
from typing import NamedTuple

_ELF = {3: ("x86", 32), 62: ("x86-64", 64), 40: ("arm", 32), 183: ("arm64", 64), 2: ("sparc", 32), 43: ("sparc", 64)}
_PE = {0x14C: ("x86", 32), 0x8664: ("x86-64", 64), 0xAA64: ("arm64", 64), 0x1C0: ("arm", 32)}
_MACH = {0x01000007: ("x86-64", 64), 0x0100000C: ("arm64", 64), 7: ("x86", 32)}
_HOSTS = {"x86_64": "x86-64", "amd64": "x86-64", "aarch64": "arm64", "arm64": "arm64", "i386": "x86", "i686": "x86"}


class Platform(NamedTuple):
    """A system ("Linux", "Windows", "macOS", or "" where it is no library), a processor and its bits."""

    system: str
    processor: str
    bits: int

    def __str__(self) -> str:
        return f"{self.system} on {self.processor} ({self.bits} bit)" if self.system else "no known system"


NO_LIBRARY = Platform("", "", 0)


def here() -> Platform:
    """What this program runs on."""
    system = {"linux": "Linux", "win32": "Windows", "darwin": "macOS"}.get(sys.platform, sys.platform)
    machine = platform.machine().casefold()
    return Platform(system, _HOSTS.get(machine, machine), 64 if sys.maxsize > 2**32 else 32)


def platforms_of(data: bytes) -> tuple[Platform, ...]:
    """What a library was built for, from its bytes; several for a Mach-O that holds several; empty for no library."""
    if data[:4] == b"\x7fELF" and len(data) >= 20:
        order = "<" if data[5] == 1 else ">"
        (machine,) = struct.unpack_from(f"{order}H", data, 18)
        processor, bits = _ELF.get(machine, (f"processor {machine}", 32 * data[4]))
        return (Platform("Linux", processor, 32 if data[4] == 1 else bits),)
    if data[:2] == b"MZ" and len(data) >= 0x40:
        (at,) = struct.unpack_from("<I", data, 0x3C)
        if data[at : at + 4] == b"PE\0\0" and len(data) >= at + 6:
            (machine,) = struct.unpack_from("<H", data, at + 4)
            processor, bits = _PE.get(machine, (f"processor {machine}", 64))
            return (Platform("Windows", processor, bits),)
    return _mach(data)


def _mach(data: bytes) -> tuple[Platform, ...]:
    if data[:4] in (b"\xcf\xfa\xed\xfe", b"\xce\xfa\xed\xfe") and len(data) >= 8:
        (kind,) = struct.unpack_from("<I", data, 4)
        return (_mach_kind(kind),)
    if data[:4] == b"\xca\xfe\xba\xbe" and len(data) >= 8:
        (count,) = struct.unpack_from(">I", data, 4)
        if count <= 16 and len(data) >= 8 + 20 * count:
            return tuple(_mach_kind(struct.unpack_from(">I", data, 8 + 20 * number)[0]) for number in range(count))
    return ()


def _mach_kind(kind: int) -> Platform:
    processor, bits = _MACH.get(kind, (f"processor {kind}", 64))
    return Platform("macOS", processor, bits)
