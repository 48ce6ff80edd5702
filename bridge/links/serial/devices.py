"""What can be known of a device node without opening it: where its name leads, who may open it, who holds it."""

import errno
import grp
import os
import pwd
import stat
from dataclasses import dataclass
from pathlib import Path

from neckyoke.bridge.links.wires.link import LinkTrouble

HOLDERS_SHOWN = 4


@dataclass(frozen=True, slots=True)
class Holder:
    """A program that has a device open."""

    pid: int
    name: str

    def __str__(self) -> str:
        """Return it as `name (pid)`."""
        return f"{self.name} ({self.pid})"


def holders(node: Path, proc: Path = Path("/proc")) -> list[Holder]:
    """List the programs, other than this one, that have `node` open.  Those we may not look into are not seen."""
    real = os.path.realpath(node)
    found = []
    for process in proc.glob("[0-9]*"):
        pid = int(process.name)
        if pid == os.getpid():
            continue
        try:
            opened = {str(link.readlink()) for link in (process / "fd").iterdir()}
            if real in opened:
                found.append(Holder(pid, (process / "comm").read_text().strip()))
        except OSError:  # it has ended meanwhile, or belongs to somebody else
            continue
    return sorted(found, key=lambda holder: holder.pid)


def _user(uid: int) -> str:
    try:
        return pwd.getpwuid(uid).pw_name
    except KeyError:
        return str(uid)


def _group(gid: int) -> str:
    try:
        return grp.getgrgid(gid).gr_name
    except KeyError:
        return str(gid)


def access(node: Path) -> str:
    """Return who may open a node, as `owner root, group dialout, mode 0660`."""
    try:
        status = node.stat()
    except OSError:
        return "owner unknown"
    mode = stat.S_IMODE(status.st_mode)
    return f"owner {_user(status.st_uid)}, group {_group(status.st_gid)}, mode {mode:04o}"


def permission_trouble(path: str, error: OSError) -> LinkTrouble:
    """Explain EACCES or EPERM at `path`: owner, group, our groups, and the command that mends it.

    The two are told apart because they are mended in different places: EACCES is the file's mode, EPERM is something
    above it (a service's DevicePolicy, a container without the device).
    """
    node = Path(os.path.realpath(path))
    me = _user(os.geteuid())
    if error.errno == errno.EPERM:
        return LinkTrouble(
            f"{path} ({node}) may not be opened although its mode allows it: a sandbox forbids it. Under "
            f"systemd add DeviceAllow=char-ttyUSB rw (or char-ttyACM, char-rfcomm) to the unit; in a container pass "
            f"the device in"
        )
    ours = ", ".join(sorted({_group(gid) for gid in {*os.getgroups(), os.getegid()}}))
    return LinkTrouble(
        f"{path} ({node}) may not be opened by {me}: {access(node)}; {me} is in {ours}. "
        f"Mend it with: {remedy(node, me)}"
    )


def remedy(node: Path, user: str) -> str:
    """Return the command that lets a user open a node: join its group, or first give it one that may."""
    try:
        status = node.stat()
        group, group_may = _group(status.st_gid), stat.S_IMODE(status.st_mode) & 0o060 == 0o060
    except OSError:
        group, group_may = "dialout", True
    if group != "root" and group_may:
        return f"sudo usermod -aG {group} {user}   and log in again (a service: restart it)"
    rule = f'KERNEL=="{node.name.rstrip("0123456789")}*", GROUP="dialout", MODE="0660"'
    return (
        f"echo '{rule}' | sudo tee /etc/udev/rules.d/60-neckyoke.rules && sudo udevadm control --reload && "
        f"sudo udevadm trigger && sudo usermod -aG dialout {user}   and log in again (a service: restart it)"
    )


def busy_trouble(path: str) -> LinkTrouble:
    """Explain that another program has the port."""
    by = [str(holder) for holder in holders(Path(path))[:HOLDERS_SHOWN]]
    who = ", ".join(by) if by else "one we may not look into; see: sudo fuser -v " + os.path.realpath(path)
    return LinkTrouble(f"{path} is held by another program: {who}. Stop it, or give the device to one program only")
