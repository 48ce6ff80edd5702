"""A cell that cannot be used."""


class CellError(ValueError):
    """A cell cannot be used: what is wrong, what would be right, and which kind of trouble it is, for summing up."""

    def __init__(self, what: str, hint: str = "", kind: str | None = None) -> None:
        super().__init__(what)
        self.what, self.hint, self.kind = what, hint, kind or what
