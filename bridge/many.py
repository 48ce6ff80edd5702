"""Counts in words: 1 animal, 2 animals."""


def many(count: int, word: str) -> str:
    """Spell a count of what a word names: 1 animal, 2 animals."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def many_are(count: int, word: str) -> str:
    """Begin a sentence with a count: 1 animal is, 2 animals are."""
    return f"{many(count, word)} {'is' if count == 1 else 'are'}"
