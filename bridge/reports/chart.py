"""The distribution as an SVG picture, drawn without any library so that the smallest box can do it."""

from neckyoke.bridge.reports.statistics import Bins

WIDTH, HEIGHT = 640, 260
LEFT, RIGHT, TOP, BOTTOM = 36, 12, 14, 40
INK, PAPER, BAR, RULE = "#222", "#fff", "#4a6f8a", "#bbb"


def svg(distribution: Bins, title: str = "Weights") -> str:
    """Draw a histogram with its counts above the bars; a picture that says so when there is nothing to draw."""
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" font-size="11">',
        f"<title>{escape(title)}</title>",
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="{PAPER}"/>',
    ]
    spans = distribution.spans()
    if not spans:
        parts.append(_text(WIDTH / 2, HEIGHT / 2, "no weights yet"))
        return "\n".join([*parts, "</svg>\n"])
    most = max(count for _, _, count in spans)
    step = (WIDTH - LEFT - RIGHT) / len(spans)
    floor = HEIGHT - BOTTOM
    for i, (low, _, count) in enumerate(spans):
        x = LEFT + i * step
        tall = (floor - TOP - 14) * count / most
        if count:
            parts.append(_bar(x + 1, floor - tall, step - 2, tall))
            parts.append(_text(x + step / 2, floor - tall - 4, str(count)))
        parts.append(_text(x, floor + 15, f"{low:g}"))
    parts.append(_text(WIDTH - RIGHT, floor + 15, f"{spans[-1][1]:g}", anchor="end"))
    parts.append(f'<line x1="{LEFT}" y1="{floor}" x2="{WIDTH - RIGHT}" y2="{floor}" stroke="{RULE}"/>')
    parts.append(_text(WIDTH / 2, HEIGHT - 8, f"kg, in bins of {distribution.width:g}"))
    return "\n".join([*parts, "</svg>\n"])


def escape(text: str) -> str:
    """Make text safe inside XML and HTML, attributes too."""
    for char, name in (("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;"), ("'", "&#39;")):
        text = text.replace(char, name)
    return text


def _bar(x: float, y: float, wide: float, tall: float) -> str:
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{tall:.1f}" fill="{BAR}"/>'


def _text(x: float, y: float, text: str, anchor: str = "middle") -> str:
    where = f'x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"'
    return f'<text {where} font-family="sans-serif" fill="{INK}">{escape(text)}</text>'
