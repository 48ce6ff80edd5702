"""Lets a phone in: the page's address with the access code behind a #, as a link and as a QR code (ISO/IEC 18004).

What stands behind the # never leaves the phone: no server and no log sees it, and the page takes it out of sight.
"""

import io
import sys
from typing import TextIO

BRIGHT, USUAL = "\x1b[97;40m", "\x1b[0m"
"""A terminal that is told to be white on black shows every module in its own colour, whatever its usual ones are."""


def link(where: str, code: str) -> str:
    """Return the page's address with the code in it."""
    return f"{where}#code={code}"


def qr(text: str, out: TextIO | None = None) -> str | None:
    """Draw a QR code for a terminal, two modules a sign; None without the package that makes it."""
    try:
        import segno
    except ImportError:
        return None
    drawn = io.StringIO()
    segno.make(text, error="l", micro=False).terminal(drawn, border=2, compact=True)
    lines = drawn.getvalue().rstrip("\n").splitlines()
    coloured = (out or sys.stdout).isatty()
    return "\n".join(f"{BRIGHT}{line}{USUAL}" if coloured else line for line in lines)


def invitation(where: str, code: str) -> str:
    """Say how a phone gets in."""
    drawn = qr(link(where, code))
    if drawn is None:
        return f"On a phone in the same network: {link(where, code)}"
    return f"On a phone in the same network, point its camera at this:\n\n{drawn}\n\nor open {link(where, code)}"
