"""How many mutants of each file were killed, to read and as a table."""

from tests.bench.mutation import Mutant


def report(drawn: dict[str, list[Mutant]], fates: dict[Mutant, str]) -> list[tuple[str, int, int]]:
    """Print what no test runs and the share killed of each file; return them: file, how many killed, of how many."""
    figures, found, all_killed, all_meant = list[str](), list[tuple[str, int, int]](), 0, 0
    for file, ones in drawn.items():
        left = [mutant for mutant in ones if mutant in fates and fates[mutant] != "killed"]
        for mutant in left:
            if fates[mutant] == "unseen":
                print(f"\n  no test runs it  {mutant.file}:{mutant.line}\n{mutant.diff()}", end="")
        meant = sum(mutant in fates for mutant in ones)
        figures.append(_figure(file, meant - len(left), meant, len(ones) - meant))
        found.append((file, meant - len(left), meant))
        all_killed, all_meant = all_killed + meant - len(left), all_meant + meant
    print("\n\n" + "\n".join([*figures, _figure("all", all_killed, all_meant, 0)]))
    return [*found, ("all", all_killed, all_meant)]


def table(figures: list[tuple[str, int, int]]) -> str:
    """Spell the figures as a table in Markdown."""
    rows = (f"| {name} | {killed} of {of} | {100 * killed // max(of, 1)} % |" for name, killed, of in figures)
    return "\n".join(["| file | killed | share |", "|---|---|---|", *rows, ""])


def _figure(name: str, killed: int, meant: int, same: int) -> str:
    share = f"{100 * killed / meant:3.0f} %" if meant else "  - %"
    return f"{share}  {name}: {killed} of {meant} killed" + (f", {same} mean the same" if same else "")
