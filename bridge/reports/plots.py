"""The distribution as PNG or SVG by matplotlib, for those who have it; `chart.svg` needs nothing."""

from pathlib import Path

from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.reports import chart
from neckyoke.bridge.reports.statistics import Bins


def draw(distribution: Bins, path: Path, title: str = "Weights") -> None:
    """Write the histogram to a file: SVG by our own hand, anything else by matplotlib.

    Raises ConfigError when matplotlib is needed and missing, or when it does not know the kind of file.
    """
    if path.suffix.casefold() == ".svg":
        path.write_text(chart.svg(distribution, title), encoding="utf-8")
        return
    try:
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure
    except ImportError:
        raise _cannot(
            path, "needs matplotlib", "pip install 'neckyoke[plots]', or name a file ending in .svg."
        ) from None
    figure = Figure(figsize=(8, 3.5), layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    spans = distribution.spans()
    if spans:
        bars = axes.bar(
            [low for low, _, _ in spans],
            [count for _, _, count in spans],
            width=distribution.width,
            align="edge",
            color=chart.BAR,
            edgecolor=chart.PAPER,
        )
        axes.bar_label(bars, labels=[str(count) if count else "" for _, _, count in spans])
    axes.margins(y=0.1)
    axes.set_xlabel(f"kg, in bins of {distribution.width:g}")
    axes.set_ylabel("animals")
    axes.set_title(title)
    try:
        figure.savefig(path, dpi=150)
    except ValueError as error:
        raise _cannot(path, str(error), "Name a file ending in .png, .pdf or .svg.") from None


def _cannot(path: Path, what: str, hint: str) -> ConfigError:
    return ConfigError([Problem(file=str(path), where="picture", what=what, hint=hint)])
