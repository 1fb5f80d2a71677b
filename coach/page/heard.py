"""The engraved passage and under each note: how late it came, and what went wrong how often."""

from __future__ import annotations

from collections.abc import Sequence

from coach.core.progress.heard import (
    FAULTS,
    HeardPassage,
    NoteSeen,
    fault_words,
    heard_words,
    printed,
)
from coach.page.figure import Legend, figure, table
from coach.page.markup import Markup, joined, tag
from coach.page.music import MusicLine, embedded
from coach.page.plot import label, line, path, picture
from coach.page.scale import Scale, step_of

QUESTION = "Which notes are the trouble?"
# Units of a picture in one mm of the engraving.
MM = 10.0
# Under the engraving, in units: how late, what went wrong, the numbers of the notes.
LATE_HIGH, GAP, MARK, FOOT = 200.0, 16.0, 32.0, 50.0
# Left of the music, for the words at the axes.
SIDE = 90.0
LEAST_MS, MOST_MS = 30.0, 80.0
LEAST_MARKS = 1
HALF_HOT = 24.0
# At this share of its takes a note counts as a late or an early one.
OFF_SHARE = 0.3


def heard_figure(heard: HeardPassage, lines: Sequence[MusicLine], key: str) -> Markup:
    drawn = [_line(heard, one, f"{key}-{k}") for k, one in enumerate(lines)]
    kind = "across lines" if len(lines) > 1 else "across"
    shown = (tag("div", one, class_="wide line", tabindex=0) for one in drawn)
    answer = heard_words(heard)
    return figure(QUESTION, answer, *shown, legend=_legend(heard), table=_table(heard), kind=kind)


def _line(heard: HeardPassage, music: MusicLine, key: str) -> Markup:
    width, staff = SIDE + music.width_mm * MM, music.height_mm * MM
    notes = [(heard.notes[k], SIDE + x * MM) for k, x in music.heads_mm.items()]
    most = max([LEAST_MARKS, *(note.fault_count for note, _ in notes)])
    base = staff + LATE_HIGH + GAP + MARK * most
    y = _scale(heard, staff)
    numbers = [note.index + 1 for note, _ in notes]
    span = f"notes {numbers[0]} to {numbers[-1]}" if numbers else "no notes"
    return picture(
        key,
        f"{QUESTION} {span.capitalize()}",
        f"{heard_words(heard)} Over {heard.takes} takes, {span}.",
        (width, base + FOOT),
        *(_hot(heard, note, x, base + FOOT) for note, x in notes),
        _axes(y, base, width),
        *(_note(heard, note, x, y, base) for note, x in notes),
        embedded(music, key, MM, SIDE) if music.svg else _names(notes, staff),
        kind="line",
    )


def _scale(heard: HeardPassage, staff: float) -> Scale:
    """The same for all lines of a passage."""
    medians = [abs(note.median_ms) for note in heard.notes if note.median_ms is not None]
    limit = min(MOST_MS, max(LEAST_MS, *medians) * 1.15) if medians else LEAST_MS
    return Scale(-limit, limit, staff + LATE_HIGH, staff + 10)


def _hot(heard: HeardPassage, note: NoteSeen, x: float, high: float) -> Markup | None:
    if note not in heard.troubles:
        return None
    return tag("rect", x=x - HALF_HOT, y=0, width=2 * HALF_HOT, height=high, rx=8, class_="hot")


def _axes(y: Scale, base: float, width: float) -> Markup:
    step = step_of(0, y.high, 2)
    left = SIDE + 6 * MM
    rows = (
        joined(
            line(left, y(ms), width, y(ms), "axis" if ms == 0 else "grid"),
            label(left - 10, y(ms) + 11, _ms_words(ms), anchor="end", kind="soft"),
        )
        for ms in (-step, 0.0, step)
    )
    return joined(
        *rows,
        line(left, base, width, base, "axis"),
        label(left - 10, base - 4, "faults", anchor="end", kind="soft"),
    )


def _ms_words(ms: float) -> str:
    return "0 ms" if ms == 0 else f"{abs(ms):.0f} {'late' if ms > 0 else 'early'}"


def _note(heard: HeardPassage, note: NoteSeen, x: float, y: Scale, base: float) -> Markup:
    marks = [kind for kind, count in note.faults for _ in range(count)]
    column = (sign(kind, x, base - MARK * (place + 0.5)) for place, kind in enumerate(marks))
    return joined(_off(note, x, y), *column, _number(heard, note, x, base))


def _off(note: NoteSeen, x: float, y: Scale) -> Markup | None:
    """Its median, and the middle half of the takes."""
    if note.median_ms is None or note.low_ms is None or note.high_ms is None:
        return None
    kind = _timing(note)
    bar = tag(
        "line", x1=x, x2=x, y1=y.held(note.low_ms), y2=y.held(note.high_ms), class_=f"half {kind}"
    )
    at = y.held(note.median_ms)
    if kind == "quiet":
        return joined(bar, tag("circle", cx=x, cy=at, r=8, class_="quiet"))
    return joined(bar, sign(kind, x, at))


def _timing(note: NoteSeen) -> str:
    counts = dict(note.faults)
    for kind in ("late", "early"):
        if counts.get(kind, 0) >= max(1, OFF_SHARE * note.counted):
            return kind
    return "quiet"


def _number(heard: HeardPassage, note: NoteSeen, x: float, base: float) -> Markup | None:
    if note in heard.troubles:
        kind = "now" if note == heard.troubles[0] else None
        return label(x, base + 36, f"{note.index + 1}", anchor="middle", kind=kind)
    return None


def _names(notes: Sequence[tuple[NoteSeen, float]], staff: float) -> Markup:
    """In place of an engraving."""
    return joined(*(label(x, staff - 20, printed(note.name), anchor="middle") for note, x in notes))


def sign(kind: str, x: float, y: float, size: float = 12.0) -> Markup:
    """The mark of a fault around a place: the shape says which, the colour only time, pitch or
    sound."""
    s = size
    if kind == "late":
        return path([(x - 0.8 * s, y - s), (x + s, y), (x - 0.8 * s, y + s)], kind, closed=True)
    if kind == "early":
        return path([(x + 0.8 * s, y - s), (x - s, y), (x + 0.8 * s, y + s)], kind, closed=True)
    if kind == "wrong":
        d = 0.75 * s
        crossed = (
            f"M{x - d:g} {y - d:g}L{x + d:g} {y + d:g}M{x - d:g} {y + d:g}L{x + d:g} {y - d:g}"
        )
        return tag("path", d=crossed, class_=kind, stroke_width=s / 3)
    if kind == "split":
        return path([(x, y - s), (x + s, y), (x, y + s), (x - s, y)], kind, closed=True)
    if kind == "missed":
        return tag("circle", cx=x, cy=y, r=0.78 * s, class_=kind, stroke_width=s / 4)
    return tag("rect", x=x - s, y=y, width=2 * s, height=0.7 * s, class_=kind)


def _legend(heard: HeardPassage) -> Legend:
    there = {kind for note in heard.notes for kind, _ in note.faults}
    bar = joined(
        tag("line", x1=17, x2=17, y1=1, y2=19, class_="half quiet", stroke_width=5),
        tag("circle", cx=17, cy=10, r=4.5, class_="quiet"),
    )
    shown = [(bar, "how late as a rule: median, and the middle half of the takes")]
    if there:
        shown.append((joined(), "each sign one take:"))
    for kind in FAULTS:
        if kind in there:
            shown.append((sign(kind, 17, 10, 7.5), fault_words(kind)))
    if heard.troubles:
        shown.append(
            (
                tag("rect", x=2, y=1, width=30, height=18, rx=3, class_="hot"),
                "most trouble",
            )
        )
    return shown


def _table(heard: HeardPassage) -> Markup | None:
    rows = [
        (
            f"{note.index + 1}, {printed(note.name)}",
            str(note.bar),
            "" if note.clean_share is None else f"{100 * note.clean_share:.0f} %",
            "" if note.median_ms is None else f"{note.median_ms:+.0f}".replace("-", "−"),
            ", ".join(f"{kind} {count}×" for kind, count in note.faults),
        )
        for note in heard.notes
    ]
    heads = ("note", "bar", "clean", "ms late", "faults")
    return table("Note by note", heads, rows, f"Over {heard.takes} takes")
