"""Has it lasted?  One comparison, made the same way everywhere."""


def lasted(since: float, t: float, length_s: float) -> bool:
    """Return whether so long has passed; a microsecond short counts, so that shifting all times changes nothing."""
    return t - since >= length_s - 1e-6
