"""Front or back on each stroke, and what decided it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from coach.core.tonguing.strokes import Stroke
from coach.core.tonguing.style import Style

FRONT, BACK = False, True
MOST_FRONTS = 2  # in a run before a leap: one more comes with the leap, perhaps one on the beat


@dataclass(frozen=True, slots=True)
class SyllableChoice:
    """`back` or front; `natural` is what simply going on would have given, `cause` what decided
    otherwise, `mode` the kind of tonguing ("single", "double", "triple")."""

    back: bool
    natural: bool
    cause: str
    mode: str


def choose(
    strokes: Sequence[Stroke], style: Style, threes: Mapping[int, int]
) -> list[SyllableChoice]:
    """One choice a stroke; `threes` gives the places of strokes in groups of three."""
    made: list[SyllableChoice] = []
    for k, stroke in enumerate(strokes):
        choice = _by_style(strokes, style, threes, made)
        if choice.back and stroke.linked and not style.back_on_beat:
            choice = _no_two_backs(choice, made[-1], strokes[k + 1 : k + 2], style)
        made.append(_as_written(choice, stroke.note.syllable, style))
    return made if style.force or style.back_on_beat else _singles(strokes, made)


def _by_style(
    strokes: Sequence[Stroke],
    style: Style,
    threes: Mapping[int, int],
    made: Sequence[SyllableChoice],
) -> SyllableChoice:
    k = len(made)
    if style.force == "single":
        return SyllableChoice(style.back_on_beat, style.back_on_beat, "", "single")
    if k in threes and not style.alternates:
        back_at = _back_at(strokes, k - threes[k], style, threes)
        usual = threes[k] in _group(style.order.index("k"), style)
        meant = threes[k] in _group(back_at, style)
        return SyllableChoice(meant, usual, "leap", "triple")
    natural = not made[-1].back if made else FRONT
    back, cause = _in_turn(strokes, style, threes, made, natural)
    return SyllableChoice(back, natural, cause, _mode(strokes, k, threes, style, made))


def _as_written(choice: SyllableChoice, syllable: str | None, style: Style) -> SyllableChoice:
    if syllable is None or syllable == style.syllable(choice.back):
        return choice
    return replace(choice, back=style.is_back(syllable), cause="written")


def _mode(
    strokes: Sequence[Stroke],
    k: int,
    threes: Mapping[int, int],
    style: Style,
    made: Sequence[SyllableChoice],
) -> str:
    """Notes on which a run lands belong to the run; one by itself changes nothing."""
    last = k + 1 == len(strokes) or not strokes[k + 1].linked
    if last and made:
        return made[-1].mode
    return "triple" if k in threes and style.force != "double" else "double"


def _in_turn(
    strokes: Sequence[Stroke],
    style: Style,
    threes: Mapping[int, int],
    made: Sequence[SyllableChoice],
    natural: bool,
) -> tuple[bool, str]:
    """Front and back by turns, begun anew where the music asks for it."""
    k = len(made)
    stroke = strokes[k]
    if not stroke.linked:
        return (BACK if style.back_on_beat and stroke.on_beat else FRONT), stroke.broken
    over_the_beat = k in threes and k - 1 in threes
    if stroke.on_beat and not over_the_beat:
        return style.back_on_beat, "beat"
    if stroke.leap and not strokes[k - 1].leap and _fronts(strokes, made) < MOST_FRONTS:
        return FRONT, "leap"
    return natural, ""


def _fronts(strokes: Sequence[Stroke], made: Sequence[SyllableChoice]) -> int:
    """Front syllables without a pause before the next stroke."""
    count, k = 0, len(made)
    while k > 0 and strokes[k].linked and not made[k - 1].back:
        count, k = count + 1, k - 1
    return count


def _group(back_at: int, style: Style) -> tuple[int, ...]:
    """The places of back syllables in a group of three; on the beat if that is to be strengthened,
    and then tkt becomes ktk."""
    if style.back_on_beat:
        return (0, 2) if style.order == "tkt" else (0,)
    return (back_at,)


def _back_at(strokes: Sequence[Stroke], first: int, style: Style, threes: Mapping[int, int]) -> int:
    """Where the style's order has its back; a leap onto it changes the group to the other order."""
    usual = style.order.index("k")
    k = first + usual
    if threes.get(k) == usual and strokes[k].leap and not strokes[k - 1].leap:
        return 3 - usual
    return usual


def _no_two_backs(
    choice: SyllableChoice, last: SyllableChoice, following: Sequence[Stroke], style: Style
) -> SyllableChoice:
    """A front where a back stands right before or, by the player's wish, right after."""
    if last.back:
        return replace(choice, back=FRONT, cause="twice")
    for stroke in following:
        if stroke.linked and stroke.note.syllable and style.is_back(stroke.note.syllable):
            return replace(choice, back=FRONT, cause="next")
    return choice


def _singles(strokes: Sequence[Stroke], made: Sequence[SyllableChoice]) -> list[SyllableChoice]:
    """Runs that need no back syllable are single-tongued, isolated notes among them."""
    named: list[SyllableChoice] = []
    start = 0
    for k in range(1, len(strokes) + 1):
        if k < len(strokes) and strokes[k].linked:
            continue
        run = made[start:k]
        single = len(run) == 1 or not any(choice.back for choice in run)
        named += [_single(choice) if single else choice for choice in run]
        start = k
    return named


def _single(choice: SyllableChoice) -> SyllableChoice:
    return replace(choice, mode="single", natural=FRONT)
