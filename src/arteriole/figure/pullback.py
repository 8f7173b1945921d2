"""The ratio along the pullback, with its steps."""

from arteriole.figure.svg import Axis, drawing, line, segment, text
from arteriole.study.result import Result

WIDTH, HEIGHT = 900.0, 112.0
NARROW, LOW = 500.0, 78.0
LEFT, RIGHT, TOP, BOTTOM = 44.0, 18.0, 10.0, 26.0


def pullback_line(result: Result, width: float = WIDTH) -> str | None:
    """Return the pullback as one SVG element, or None when there was none."""
    trace = result.pullback
    if trace is None or not trace.place:
        return None
    height = HEIGHT if width > NARROW else LOW
    x = Axis(min(trace.place), max(trace.place), LEFT, width - RIGHT)
    low = min(min(trace.ratio) - 0.02, 0.8)
    y = Axis(low, max(max(trace.ratio) + 0.02, 1.02), height - BOTTOM, TOP)
    parts = [
        *(segment(x.p, y(v), x.q, y(v), "grid") + text(x.p - 5, y(v) + 3, f"{v:.3g}",
          "soft end small") for v in y.ticks(4)),
        *(text(x(v), height - BOTTOM + 12, f"{v:g}", "soft mid small")
          for v in x.ticks(round(width / 110))),
        line([(x(a), y(b)) for a, b in zip(trace.place, trace.ratio, strict=True)], "ratio"),
        text(width - RIGHT, height - 3, f"{trace.place_unit}, {trace.state}", "soft end small"),
    ]  # fmt: skip
    for k, step in enumerate(trace.steps, 1):
        # Without a length the axis is the time before the sensor reached the guide.
        a, b = (step.start_mm, step.end_mm) if trace.place_unit == "mm" else (
            trace.end_s - step.end_s, trace.end_s - step.start_s)  # fmt: skip
        if a is None or b is None:
            continue
        parts.append(segment(x(a), y.q + 4, x(b), y.q + 4, "ink thick"))
        parts.append(text((x(a) + x(b)) / 2, y.q + 16, f"{k}: {step.drop:.2f}", "mid small"))
    return drawing(width, height, parts, f"Pd/Pa along the pullback, {trace.state}")
