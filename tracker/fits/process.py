"""Which process is meant by a number, though numbers are given again: where it runs, when it began.

A number alone says little: once its process has ended, the system gives it to another.
"""

import os
import platform
import subprocess
import sys
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Self

_PROC = Path("/proc")
_BOOT, _NUMBERS = _PROC / "sys/kernel/random/boot_id", _PROC / "self/ns/pid"


@dataclass(frozen=True, slots=True)
class Process:
    """A process that no other one is taken for."""

    pid: int
    where: str
    """Machine, its last start, and the set of numbers there (a container has its own)."""
    born: str
    """When it began, as that system says it; empty where it cannot be told."""

    @classmethod
    def of(cls, pid: int) -> Self:
        """Return the process that has a number on this machine now."""
        return cls(pid, _here(), _born(pid))

    @classmethod
    def from_json(cls, kept: Any) -> Self | None:
        """Return what ``as_json`` gave; None for anything else."""
        try:
            return cls(int(kept["pid"]), str(kept["where"]), str(kept["born"]))
        except (KeyError, TypeError, ValueError):
            return None

    def as_json(self) -> Mapping[str, Any]:
        """Return it as plain values."""
        return asdict(self)

    def lives(self) -> bool | None:
        """Return whether it still runs; None where this machine cannot tell."""
        if self.where != _here() or not self.born:
            return None
        return _born(self.pid) == self.born


def _here() -> str:
    parts = [platform.node()]
    if _BOOT.exists():
        parts.append(_BOOT.read_text().strip())
    if _NUMBERS.is_symlink():
        parts.append(os.readlink(_NUMBERS))
    return " ".join(parts)


def _born(pid: int) -> str:
    """Return when the process of a number began; empty when it has ended or cannot be asked."""
    if sys.platform == "win32":
        return ""
    if _PROC.joinpath("self/stat").exists():
        try:
            state = _PROC.joinpath(str(pid), "stat").read_text(errors="replace")
        except OSError:
            return ""
        # the name in brackets may hold blanks and brackets of its own
        fields = state.rpartition(")")[2].split()
        ended = fields[0] in "ZX"  # still listed until its parent has asked
        return "" if ended else fields[19]
    asked = subprocess.run(  # noqa: S603  (numbers alone go in)
        ("/bin/ps", "-o", "lstart=", "-p", str(int(pid))),
        capture_output=True,
        text=True,
        check=False,
    )
    return asked.stdout.strip()
