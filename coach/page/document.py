"""The whole page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from coach.core.profile.profile import Profile
from coach.core.progress.climb import Climb
from coach.core.progress.dates import date_words
from coach.core.progress.days import DayValue, Minutes
from coach.core.progress.fingers import fingers_of
from coach.core.progress.heard import HeardPassage
from coach.core.progress.week import NOTHING, week_words
from coach.core.review import Review
from coach.page.climb import climb_figure
from coach.page.css import css
from coach.page.days import evenness_figure, minutes_figure, offset_figure
from coach.page.figure import figure
from coach.page.fingers import fingers_figure
from coach.page.heard import QUESTION, heard_figure
from coach.page.markup import Markup, joined, tag
from coach.page.music import MusicLine
from coach.page.sorts import limits_figure, registers_figure, syllables_figure

# Nothing may be loaded or run, whatever a title says.
POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"


@dataclass(frozen=True, slots=True)
class PassageSection:
    """One passage of late: how its tempo rises, what was heard of its notes (None: no takes are
    kept), and its engraving, line by line."""

    climb: Climb
    heard: HeardPassage | None
    lines: tuple[MusicLine, ...]


@dataclass(frozen=True, slots=True)
class Content:
    """What stands on the page; `player` may be empty, `advice` is one sentence, `weak` what clearly
    goes worse than the rest.  `more` passages have no picture."""

    player: str
    instrument: str
    review: Review
    advice: str
    weak: Sequence[str]
    passages: Sequence[PassageSection]
    more: int
    profile: Profile
    minutes: Minutes
    evenness: Sequence[DayValue]
    offset: Sequence[DayValue]


def page(content: Content) -> str:
    """The HTML text."""
    title = f"Practice review{f', {content.player}' if content.player else ''}"
    head = tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("meta", http_equiv="Content-Security-Policy", content=POLICY),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", name="color-scheme", content="light dark"),
        tag("meta", name="referrer", content="no-referrer"),
        tag("title", title),
        tag("style", Markup(css())),
    )
    played = bool(content.review.passages or content.minutes.total)
    main = _main(content) if played else tag("main", tag("p", NOTHING, class_="next"))
    foot = tag("footer", tag("p", FOOT))
    body = tag("body", _header(content, title, played=played), main, foot)
    xmlns = "http://www.w3.org/1999/xhtml"
    return f"<!DOCTYPE html>\n{tag('html', head, body, lang='en', xmlns=xmlns)}\n"


FOOT = "Tempi are clicks a minute. Nothing on this page comes from the network."


def _header(content: Content, title: str, *, played: bool) -> Markup:
    today = content.review.today
    day = f"{date_words(today)} {date.fromordinal(today).year}"
    parts = [tag("h1", title), tag("p", f"{content.instrument}, {day}", class_="soft")]
    if played:
        week, before = week_words(content.review.week), week_words(content.review.before)
        parts += [
            tag("p", content.advice, class_="next"),
            tag("p", tag("b", "This week: "), f"{week}."),
            tag("p", f"The week before: {before}.", class_="soft"),
            _nav(content),
        ]
    return tag("header", *parts)


def _nav(content: Content) -> Markup:
    titles = [(_anchor(k), one.climb.title) for k, one in enumerate(content.passages)]
    links = [*titles, ("tongue", "Tongue and fingers"), ("time", "Time"), ("days", "Days")]
    items = (tag("li", tag("a", words, href=f"#{name}")) for name, words in links)
    return tag("nav", tag("ul", *items), aria_label="On this page")


def _anchor(place: int) -> str:
    return f"passage-{place + 1}"


def _main(content: Content) -> Markup:
    passages = (_passage(one, k) for k, one in enumerate(content.passages))
    more = None
    if content.more:
        words = f"{content.more} more passages were played; coach review lists them."
        more = tag("p", words, class_="soft")
    return tag("main", *passages, more, _sorts(content), _time(content), _days(content))


def _passage(one: PassageSection, place: int) -> Markup:
    key = f"p{place + 1}"
    heard = (
        heard_figure(one.heard, one.lines, f"{key}-notes")
        if one.heard is not None
        else figure(QUESTION, "No takes of it are kept that could be shown.")
    )
    return _section(_anchor(place), one.climb.title, climb_figure(one.climb, f"{key}-climb"), heard)


def _sorts(content: Content) -> Markup:
    profile = content.profile
    weak = [tag("li", words) for words in content.weak]
    return _section(
        "tongue",
        "Tongue and fingers",
        joined(tag("p", "Clearly weaker than the rest:"), tag("ul", *weak)) if weak else None,
        syllables_figure(profile, "syllables"),
        limits_figure(profile, "limits"),
        registers_figure(profile, "registers"),
        fingers_figure(fingers_of(profile)),
    )


def _time(content: Content) -> Markup:
    today = content.review.today
    return _section(
        "time",
        "Time",
        evenness_figure(content.evenness, today, "evenness"),
        offset_figure(content.offset, today, "offset"),
    )


def _days(content: Content) -> Markup:
    return _section("days", "Days", minutes_figure(content.minutes, "minutes"))


def _section(name: str, heading: str, *parts: Markup | None) -> Markup:
    return tag(
        "section", tag("h2", heading, id=f"{name}-h"), *parts, id=name, aria_labelledby=f"{name}-h"
    )
