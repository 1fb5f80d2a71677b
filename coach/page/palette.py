"""Colours of the page, on light and on dark ground.

Hues after the palette for all kinds of colour vision of M. Okabe and K. Ito, "Color Universal
Design" (2008), darkened or lightened until text has 4.5:1 against the ground and shapes 3:1 (WCAG
2.2, 1.4.3 and 1.4.11).  Shapes and words say the same as colours everywhere.  The hues of faults
are those of the screen (`screen/style`): orange for time, purple for pitch, vermillion for sound.
"""

from __future__ import annotations

LIGHT = {
    "paper": "#ffffff",
    "card": "#f4f6f8",
    "ink": "#14191f",
    "soft": "#4a545e",
    "axis": "#6b7680",
    "grid": "#dde2e7",
    "main": "#0072b2",
    "band": "#c3ddef",
    "time": "#b27700",
    "pitch": "#7d2460",
    "sound": "#8f3300",
    "rest": "#6b7680",
    "hot": "#fde3c8",
    "shade0": "#ffffff",
    "shade1": "#fdeedd",
    "shade2": "#fbdcb9",
    "shade3": "#f7c48c",
    "shade4": "#f0a75a",
}
DARK = {
    "paper": "#12161b",
    "card": "#1b2128",
    "ink": "#f2f4f6",
    "soft": "#b4bec8",
    "axis": "#8a96a2",
    "grid": "#2f3843",
    "main": "#56b4e9",
    "band": "#1d4560",
    "time": "#ffb929",
    "pitch": "#f5c6de",
    "sound": "#d95f02",
    "rest": "#8a96a2",
    "hot": "#4a3213",
    "shade0": "#12161b",
    "shade1": "#33240f",
    "shade2": "#4a3213",
    "shade3": "#664312",
    "shade4": "#82540f",
}
