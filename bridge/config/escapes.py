"""What to send a device, spelled so that a person can write it in the configuration."""

import re

ESCAPE = re.compile(r"\\(?:x([0-9A-Fa-f]{2})|([rnt0\\]))")
PLAIN = {"r": "\r", "n": "\n", "t": "\t", "0": "\0", "\\": "\\"}


def spelled_bytes(text: str) -> bytes:
    r"""Turn `Z\r\n` or `\x05` into the bytes meant; what is no such escape stands for itself.

    Raises ValueError when a character is no single byte.
    """

    def byte(match: re.Match[str]) -> str:
        return chr(int(match[1], 16)) if match[1] else PLAIN[match[2]]

    try:
        return ESCAPE.sub(byte, text).encode("latin-1")
    except UnicodeEncodeError as error:
        raise ValueError(f"{text[error.start]!r} is no single byte: write it as \\x and two hex digits") from None
