"""The note in a metronome mark, drawn: no font that typst brings along has all of them."""

from __future__ import annotations

_OPEN = ("half",)
_FLAGS = {"eighth": 1, "16th": 2}


def note_sign(value: str, dots: int) -> str:
    """An SVG, 100 high, of a "half", "quarter", "eighth" or "16th" note with its dots."""
    flags = _FLAGS.get(value, 0)
    width = 40 + (26 if flags else 0) + 18 * dots
    shapes = [_head(value in _OPEN), '<rect x="31" y="4" width="4" height="80"/>']
    shapes += [_flag(4 + 18 * k) for k in range(flags)]
    shapes += [f'<circle cx="{48 + 18 * k}" cy="84" r="5"/>' for k in range(dots)]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} 100"'
        f' width="{width}" height="100">{"".join(shapes)}</svg>'
    )


def _head(is_open: bool) -> str:
    inside = ' fill="none" stroke="black" stroke-width="6"' if is_open else ""
    size = (15, 9) if is_open else (18, 12)
    return (
        f'<ellipse cx="19" cy="86" rx="{size[0]}" ry="{size[1]}"'
        f' transform="rotate(-22 19 86)"{inside}/>'
    )


def _flag(top: int) -> str:
    curve = "c2 18 27 22 19 50 c2 -18 -14 -22 -19 -24 z"
    return f'<path d="M35 {top} {curve}"/>'
