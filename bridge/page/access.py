"""The access code: nine digits that a phone must know before it may change anything.

Digits, since they are typed with a wet thumb.  The code is drawn at random, printed once, and kept only as a salted
scrypt hash (RFC 7914) in a file of mode 0600: whoever reads the file still has not got the code.  There is no default:
without the file nothing can be asked.  A new file ends the old code at once, without a restart.

    billion codes / (630 wrong tries an hour) > 180 years             (the limits are guard.py's)
"""

import hashlib
import hmac
import json
import os
import re
import secrets
from pathlib import Path

DIGITS = 9
COST = {"n": 2**13, "r": 8, "p": 1}
"""scrypt's parameters: 8 MiB and some 25 ms on a desk computer, a few tenths of a second on a small board."""


class AccessError(Exception):
    """The code's file cannot be written; the text says why and what to do."""


def new_code() -> str:
    """Draw a code."""
    return f"{secrets.randbelow(10**DIGITS):0{DIGITS}d}"


def spell(code: str) -> str:
    """Put a code in groups of three, for reading aloud."""
    return " ".join(code[at : at + 3] for at in range(0, len(code), 3))


def plain(typed: str) -> str | None:
    """Take spaces, dots and hyphens out of a code as typed; None when it is no code."""
    digits = re.sub(r"[ .\-]", "", typed[:40])
    return digits if re.fullmatch(rf"[0-9]{{{DIGITS}}}", digits) else None


def _hash(code: str, salt: bytes) -> bytes:
    return hashlib.scrypt(code.encode(), salt=salt, dklen=32, **COST)


def keep(path: Path, code: str) -> None:
    """Write a code's hash in place of the one before, at once or not at all.  Raises AccessError."""
    salt = secrets.token_bytes(16)
    text = json.dumps({"scrypt": COST, "salt": salt.hex(), "hash": _hash(code, salt).hex()}) + "\n"
    part = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
            if os.geteuid() == 0:  # root made it for the daemon, whose folder this is
                os.fchown(file.fileno(), path.parent.stat().st_uid, path.parent.stat().st_gid)
        part.replace(path)
    except OSError as error:
        remedy = "run it with sudo" if isinstance(error, PermissionError) else "mend its folder"
        raise AccessError(f"{path} cannot be written: {error.strerror}; {remedy}") from error


class Access:
    """Checks codes against the file.  `check` takes its time (scrypt): call it in a thread.

    A code that was right once is known again by a keyed digest in memory, so that every later request is cheap.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._key = secrets.token_bytes(32)
        self._known: tuple[tuple[int, int], bytes] | None = None

    def _version(self) -> tuple[int, int] | None:
        try:
            seen = self._path.stat()
        except OSError:
            return None
        return seen.st_mtime_ns, seen.st_ino

    @property
    def there(self) -> bool:
        """Whether a code has been made."""
        return self._version() is not None

    def _digest(self, code: str) -> bytes:
        return hmac.digest(self._key, code.encode(), "sha256")

    def remembered(self, code: str) -> bool:
        """Return at once whether this very code was found right before, and the file is still the same."""
        return (
            self._known is not None
            and self._known[0] == self._version()
            and hmac.compare_digest(self._known[1], self._digest(code))
        )

    def check(self, code: str) -> bool:
        """Return whether a code is the right one.  A missing or damaged file lets nobody in."""
        version = self._version()
        try:
            held = json.loads(self._path.read_bytes())
            right = hmac.compare_digest(bytes.fromhex(held["hash"]), _hash(code, bytes.fromhex(held["salt"])))
        except (OSError, ValueError, KeyError, TypeError):
            return False
        if right and version is not None:
            self._known = (version, self._digest(code))
        return right
