"""A layout drafted for frames that no built-in layout reads."""
