"""Counts in words: 1 animal, 2 animals."""


def many(count: int, word: str) -> str:
    """Spell a count of what a word names: 1 animal, 2 animals."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"
