"""The few SVG elements the figures need, as escaped text, and the colours they are drawn in.

Elements carry classes; a page colours them for its theme, :func:`standalone` for white paper.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from html import escape

#: Colours on white paper; hue = channel, stroke = state.
PRINT = {"ink": "#1A1A1A", "soft": "#6B7078", "grid": "#D9DADC", "pa": "#1A1A1A", "pd": "#7A2088",
         "temp": "#7D5733", "ratio": "#6B7078", "paper": "#FFFFFF"}  # fmt: skip
#: The same on the dark page.
DARK = {"ink": "#E6E3DA", "soft": "#9AA0A8", "grid": "#2A2F37", "pa": "#F3EFE2", "pd": "#DD93E8",
        "temp": "#B58B63", "ratio": "#9AA0A8", "paper": "#0E1116"}  # fmt: skip

TEXT_PX = 11.0


@dataclass(frozen=True, slots=True)
class Axis:
    """A straight map from values ``a``..``b`` to pixels ``p``..``q``."""

    a: float
    b: float
    p: float
    q: float

    def __call__(self, value: float) -> float:
        """Return the pixel of a value."""
        return self.p + (value - self.a) / ((self.b - self.a) or 1.0) * (self.q - self.p)

    def ticks(self, wanted: int = 5) -> list[float]:
        """Return round values inside the axis."""
        low, high = sorted((self.a, self.b))
        rough = (high - low) / max(wanted, 1)
        if not (rough > 0 and math.isfinite(rough)):
            return [low]
        power = 10.0 ** math.floor(math.log10(rough))
        step = next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= rough * 0.999)
        first = math.ceil(low / step - 1e-9)
        last = math.floor(high / step + 1e-9)
        return [k * step for k in range(first, last + 1)]


def style(colours: dict[str, str]) -> str:
    """Return the style rules of the figures for one set of colours."""
    c = colours
    return (
        f".fig text{{fill:{c['ink']};font-size:{TEXT_PX:g}px}}"
        f".fig .soft{{fill:{c['soft']}}}.fig .axis{{stroke:{c['soft']};stroke-width:.8;fill:none}}"
        f".fig .grid{{stroke:{c['grid']};stroke-width:.7;fill:none}}"
        + "".join(
            f".fig .{k}{{stroke:{c[k]};fill:none;stroke-width:{w};stroke-linejoin:round}}"
            f".fig .{k}-fill{{fill:{c[k]};stroke:none}}.fig text.{k}-ink{{fill:{c[k]};stroke:none}}"
            for k, w in (("pa", "0.9"), ("pd", "0.7"), ("temp", "1"), ("ratio", "1"))
        )
        + f".fig .ink{{stroke:{c['ink']};stroke-width:1.2;fill:none}}"
        f".fig .ink-fill{{fill:{c['ink']}}}.fig .paper-fill{{fill:{c['paper']}}}"
        ".fig .dash{stroke-dasharray:4 3}.fig .dot{stroke-dasharray:1.5 2.5}.fig .pale{opacity:.28}"
        ".fig .thick{stroke-width:2.4}"
        ".fig .pa.mean{stroke-width:1.5}.fig .pd.mean{stroke-width:1.1}"
        ".fig .end{text-anchor:end}.fig .mid{text-anchor:middle}"
        ".fig .small{font-size:9px}"
    )


def line(points: Iterable[tuple[float, float]], classes: str) -> str:
    """Return a polyline; a point that is not a number breaks it."""
    parts: list[str] = []
    pen = "M"
    for x, y in points:
        if not (math.isfinite(x) and math.isfinite(y)):
            pen = "M"
            continue
        parts.append(f"{pen}{x:.1f} {y:.1f}")
        pen = "L"
    return f'<path class="{classes}" d="{"".join(parts)}"/>' if parts else ""


def segment(x0: float, y0: float, x1: float, y1: float, classes: str) -> str:
    """Return one straight line."""
    return f'<path class="{classes}" d="M{x0:.1f} {y0:.1f}L{x1:.1f} {y1:.1f}"/>'


def box(x: float, y: float, width: float, height: float, classes: str) -> str:
    """Return a rectangle."""
    return (
        f'<rect class="{classes}" x="{x:.1f}" y="{y:.1f}" width="{max(width, 0.5):.1f}" '
        f'height="{max(height, 0.0):.1f}"/>'
    )


def text(x: float, y: float, words: str, classes: str = "") -> str:
    """Return a text; markup and control characters in the words are harmless."""
    return f'<text class="{classes}" x="{x:.1f}" y="{y:.1f}">{_harmless(words, 60)}</text>'


def _harmless(words: str, longest: int) -> str:
    short = words if len(words) <= longest else f"{words[:longest]}…"
    return escape("".join(c if c.isprintable() else " " for c in short))


def drawing(width: float, height: float, parts: Iterable[str], title: str) -> str:
    """Return the SVG element; ``title`` is what it shows, for those who cannot see it."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="fig" role="img" '
        f'viewBox="0 0 {width:g} {height:g}" aria-label="{_harmless(title, 500)}">'
        f"{''.join(parts)}</svg>"
    )


def standalone(svg: str) -> str:
    """Return the drawing with the colours of white paper inside it."""
    head, sign, rest = svg.partition(">")
    return f"{head}{sign}<style>{style(PRINT)}</style>{rest}"
