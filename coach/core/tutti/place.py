"""Where the bars of an excerpt lie in the whole piece, and which of them a recording has.

Positions of a recording count quarter notes of the whole piece as it is played out, from the start
of the whole bar in which it begins; an excerpt counts its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from coach.core.score.line import PlayedBar
from coach.core.tutti.bars import Positions
from coach.core.warp import Warp
from coach.errors import CoachError

# Bars heard worse than this are named; at the ends they are not in the recording at all.
HARDLY_SURE = 0.3
# Where half of the bars are heard no better than this it is another piece, or may well be (medians
# of made-up songs: 0.61 to 0.93 for what is played, 0.24 to 0.43 for another over the same chords,
# up to 0.11 a fifth off).
NOT_THIS_PIECE, MAYBE_ANOTHER = 0.2, 0.5
# Tapped bars go into those that were known if there is no more than a bar or so between.
NEAR_BEATS = Fraction(4)
MOST_NAMED = 6


def bar_lines(bars: Sequence[PlayedBar]) -> tuple[Fraction, ...]:
    """Where each bar begins, and the end of the last, in beats of the line from a whole bar on."""
    into = bars[0].into
    return (*(bar.start + into for bar in bars), bars[-1].start + bars[-1].length + into)


def start_in(whole: Sequence[PlayedBar], part: Sequence[PlayedBar]) -> Fraction:
    """Where beat 0 of an excerpt lies in the whole piece; CoachError where its bars are not played
    one after the other there."""
    order, wanted = [bar.index for bar in whole], [bar.index for bar in part]
    for k in range(len(order) - len(wanted) + 1):
        if order[k : k + len(wanted)] == wanted:
            return whole[k].start + whole[0].into - part[0].into
    hint = "choose bars from one side of the repeat"
    raise CoachError("in the whole piece a repeat lies between these bars", "", hint)


def places_wanted(bars: Sequence[PlayedBar], warp: Warp | None) -> tuple[Fraction, ...]:
    """What is to be found in a recording: all bar lines, and the beats of bars with a fermata,
    where the tempo is not even from bar line to bar line."""
    lines = bar_lines(bars)
    held = {beat for beat, _ in warp.holds} if warp else set()
    inner = [
        beat
        for bar, low, high in zip(bars, lines, lines[1:], strict=False)
        if any(low <= hold < high for hold in held)
        for beat in _beats(bar, low)
    ]
    return tuple(sorted({*lines, *inner}))


def beats_to_tap(bars: Sequence[PlayedBar]) -> tuple[Fraction, ...]:
    """Every beat of the meter, from the first bar on."""
    return tuple(
        beat for bar, low in zip(bars, bar_lines(bars), strict=False) for beat in _beats(bar, low)
    )


def _beats(bar: PlayedBar, low: Fraction) -> Iterator[Fraction]:
    pulse = bar.meter.pulse_beats
    first = -(-bar.into // pulse)
    for k in range(int(first), int(-(-(bar.into + bar.length) // pulse))):
        yield low + k * pulse - bar.into


def in_recording(found: Positions, from_beat: Fraction, to_beat: Fraction) -> Positions:
    """The places that a recording has: the bars from beat to beat, less those at the ends that are
    hardly heard.  CoachError where that is nothing, or heard as badly as another piece."""
    low = max((k for k, beat in enumerate(found.beats) if beat <= from_beat), default=0)
    last = len(found.beats) - 1
    high = min((k for k, beat in enumerate(found.beats) if beat >= to_beat), default=last)
    while high > low and found.sure[high - 1] < HARDLY_SURE:
        high -= 1
    while low < high and found.sure[low] < HARDLY_SURE:
        low += 1
    sure = sorted(found.sure[low:high])
    if not sure or sure[len(sure) // 2] < NOT_THIS_PIECE:
        raise CoachError(
            "this recording and the score have nothing in common",
            "",
            "check both, or tap the beats yourself with --tap",
        )
    kept = slice(low, high + 1)
    return Positions(found.rate, found.beats[kept], found.frames[kept], found.sure[kept])


def merged(known: Positions, tapped: Positions) -> Positions:
    """What was tapped in place of what was known there; alone, where the two don't meet."""
    known = known.at_rate(tapped.rate)
    if (
        tapped.beats[0] > known.beats[-1] + NEAR_BEATS
        or tapped.beats[-1] < known.beats[0] - NEAR_BEATS
    ):
        return tapped
    rows = list(zip(known.beats, known.frames, known.sure, strict=True))
    first, last = (tapped.beats[0], tapped.frames[0]), (tapped.beats[-1], tapped.frames[-1])
    rows = [
        *(row for row in rows if row[0] < first[0] and row[1] < first[1]),
        *zip(tapped.beats, tapped.frames, tapped.sure, strict=True),
        *(row for row in rows if row[0] > last[0] and row[1] > last[1]),
    ]
    try:
        return Positions(tapped.rate, *(tuple(part) for part in zip(*rows, strict=True)))
    except CoachError:
        return tapped


def check_inside(
    positions: Positions, whole: Sequence[PlayedBar], first: Fraction, last: Fraction
) -> None:
    """CoachError where notes from beat `first` to `last` are not between the places; the bar after
    the last place counts, since its end is seldom known."""
    lines = bar_lines(whole)
    if positions.beats[-1] > lines[-1]:
        said = "its bars go on after the end of this score"
        raise CoachError(said, "", "find them again with --new-bars")
    after = max(lines[min(_bar_at(lines, positions.beats[-1]) + 1, len(lines) - 1)], Fraction(0))
    if first < positions.beats[0] or last >= max(after, positions.beats[-1]):
        hint = f"it has {bars_words(positions, whole)}; choose from these, or find them anew"
        raise CoachError("these bars are not in the recording", "", f"{hint} (--new-bars, --tap)")


def bars_words(positions: Positions, whole: Sequence[PlayedBar]) -> str:
    """ "bars 1 to 24", by their printed numbers."""
    lines = bar_lines(whole)
    low = _bar_at(lines, positions.beats[0])
    high = max(low, _bar_at(lines, positions.beats[-1]))
    # The end of a bar is the start of the next one.
    high -= lines[high] == positions.beats[-1] and high > low
    low, high = min(low, len(whole) - 1), min(high, len(whole) - 1)
    return f"bars {whole[low].number} to {whole[high].number}"


def sure_words(positions: Positions, whole: Sequence[PlayedBar]) -> str:
    """How surely its bars are known, in a few words."""
    each = sorted(positions.sure[:-1])
    if each[len(each) // 2] < MAYBE_ANOTHER:
        return "but hardly: make sure that it is this piece"
    lines = bar_lines(whole)
    doubtful = dict.fromkeys(
        whole[_bar_at(lines, beat)].number
        for beat, sure in zip(positions.beats[:-1], positions.sure, strict=False)
        if sure < HARDLY_SURE
    )
    if not doubtful:
        return "all of them surely"
    named = ", ".join(list(doubtful)[:MOST_NAMED])
    more = " and others" if len(doubtful) > MOST_NAMED else ""
    return f"not surely: {named}{more} (tap there if the click leaves the music: --tap)"


def _bar_at(lines: Sequence[Fraction], beat: Fraction) -> int:
    return max((k for k, line in enumerate(lines) if line <= beat), default=0)


def uneven_ms(taps: Sequence[int], positions: Positions) -> float:
    """How far taps (frames) lie from the places made of them: the median."""
    off = sorted(min(abs(tap - frame) for frame in positions.frames) for tap in taps)
    return 1000 * off[len(off) // 2] / positions.rate
