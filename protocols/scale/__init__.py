"""Scale frames: layouts declared, read and built in."""
