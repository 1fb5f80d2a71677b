"""Colours: contrast by WCAG 2.2, and pairs that a colour-blind player must tell apart."""

from __future__ import annotations

from colorsys import rgb_to_hsv
from itertools import combinations, pairwise

import pytest

from coach.page.css import css
from coach.page.palette import DARK, LIGHT
from coach.screen.style import MARKS

TEXTS = ("ink", "soft")
FAULTS = ("time", "pitch", "sound")
SHAPES = ("axis", "main", "rest", *FAULTS)
SHADES = ("shade0", "shade1", "shade2", "shade3", "shade4")
GROUNDS = {"light": LIGHT, "dark": DARK}
# Of G. Machado, M. Oliveira and L. Fernandes, "A Physiologically-based Model for Simulation of
# Color Vision Deficiency", IEEE Trans. Vis. Comput. Graph. 15 (2009), 1291, severity 1.0.
SIGHTS = {
    "deuteranopia": (
        (0.367322, 0.860646, -0.227968),
        (0.280085, 0.672501, 0.047413),
        (-0.011820, 0.042940, 0.968881),
    ),
    "protanopia": (
        (0.152286, 1.052583, -0.204868),
        (0.114503, 0.786281, 0.099216),
        (-0.003882, -0.048116, 1.051998),
    ),
}
# What lies side by side in one picture: these must differ by more than their shape.
TOGETHER = (("main", "ink"), *combinations(FAULTS, 2))


def linear(colour: str) -> list[float]:
    """sRGB (IEC 61966-2-1) to linear light, 0 to 1."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    return [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, "contrast ratio"."""
    light = sorted(
        sum(w * p for w, p in zip((0.2126, 0.7152, 0.0722), linear(c), strict=True))
        for c in (one, other)
    )
    return (light[1] + 0.05) / (light[0] + 0.05)


def lab(light: list[float]) -> list[float]:
    """CIE 1976 L*a*b* (D65) of linear sRGB."""
    red, green, blue = (min(1.0, max(0.0, part)) for part in light)
    x = (0.4124 * red + 0.3576 * green + 0.1805 * blue) / 0.9505
    y = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    z = (0.0193 * red + 0.1192 * green + 0.9505 * blue) / 1.089
    fx, fy, fz = (t ** (1 / 3) if t > 0.008856 else 7.787 * t + 16 / 116 for t in (x, y, z))
    return [116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)]


def seen_apart(one: str, other: str, sight) -> float:
    """Distance in L*a*b* (CIE76) as seen through that matrix."""
    seen = [
        lab([sum(w * p for w, p in zip(row, linear(c), strict=True)) for row in sight])
        for c in (one, other)
    ]
    return sum((a - b) ** 2 for a, b in zip(*seen, strict=True)) ** 0.5


def hue(colour: str) -> float:
    """Degrees round the circle of colours, red 0, green 120."""
    red, green, blue = (int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5))
    return 360 * rgb_to_hsv(red, green, blue)[0]


def apart(one: float, other: float) -> float:
    """Degrees between two hues, the shorter way."""
    return abs((one - other + 180) % 360 - 180)


def test_contrast_as_published():
    """WCAG's own examples: black on white 21, #767676 on white just 4.5."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("ground", GROUNDS)
def test_text_has_contrast_enough(ground):
    colours = GROUNDS[ground]
    for text in (*TEXTS, "main"):
        assert contrast(colours[text], colours["paper"]) >= 4.5, text
    for under in ("card", "hot", *SHADES):
        assert contrast(colours["ink"], colours[under]) >= 4.5, under
    assert contrast(colours["ink"], colours["band"]) >= 4.5


@pytest.mark.parametrize("ground", GROUNDS)
def test_shapes_have_contrast_enough(ground):
    colours = GROUNDS[ground]
    for shape in SHAPES:
        assert contrast(colours[shape], colours["paper"]) >= 3, shape
    for shape in (*FAULTS, "axis"):
        assert contrast(colours[shape], colours["hot"]) >= 3, shape
    for shape in ("main", "axis"):
        assert contrast(colours[shape], colours["band"]) >= 3, shape


@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("sight", SIGHTS)
def test_the_colour_blind_see_two_colours(ground, sight):
    for one, other in TOGETHER:
        pair = GROUNDS[ground][one], GROUNDS[ground][other]
        assert seen_apart(*pair, SIGHTS[sight]) >= 20, (one, other)


@pytest.mark.parametrize("ground", GROUNDS)
@pytest.mark.parametrize("kind", FAULTS)
def test_a_kind_of_fault_has_its_hue_of_the_screen(ground, kind):
    """Of all hues of the screen the nearest: time is not mistaken for sound, nor either for clean,
    which is green there."""
    styles = {"time": "late", "pitch": "wrong", "sound": "missed", "clean": "clean"}
    hues = {name: hue(MARKS[of].style.color.name) for name, of in styles.items()}
    mine = hue(GROUNDS[ground][kind])
    assert min(hues, key=lambda name: apart(hues[name], mine)) == kind
    assert apart(hues[kind], mine) < 10


def test_early_and_late_have_one_colour():
    assert MARKS["early"].style == MARKS["late"].style
    assert ".late,.early{fill:var(--time)" in css()


@pytest.mark.parametrize("ground", GROUNDS)
def test_the_later_the_further_from_the_ground(ground):
    shades = [contrast(GROUNDS[ground][name], GROUNDS[ground]["paper"]) for name in SHADES]
    assert all(b > a for a, b in pairwise(shades))


def test_every_colour_in_use_is_there_and_none_besides():
    text = css()
    used = {part.split(")")[0] for part in text.split("var(--")[1:]}
    assert used == set(LIGHT) == set(DARK)
    assert "#" not in text.split("print-color-adjust:exact}}")[1]
