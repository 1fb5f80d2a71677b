"""The week in one line."""

from __future__ import annotations

from coach.core.review import Week

NOTHING = "Nothing has been played lately. Begin with: coach warmup"


def week_words(week: Week) -> str:
    """ "5 days, 84 minutes of playing, 61 takes, 91 % of the notes clean"."""
    if not week.takes:
        return "no practice" + _elsewhere(week)
    clean = "" if week.clean is None else f", {100 * week.clean:.0f} % of the notes clean"
    days = f"{week.days} day{'s' if week.days > 1 else ''}"
    takes = f"{week.takes} take{'s' if week.takes > 1 else ''}"
    return f"{days}, {_minutes(week.minutes)} of playing, {takes}{clean}{_elsewhere(week)}"


def _elsewhere(week: Week) -> str:
    minutes = week.elsewhere_minutes
    return f", {_minutes(minutes)} away from the coach" if minutes else ""


def _minutes(minutes: float) -> str:
    return f"{minutes:.0f} minute{'' if round(minutes) == 1 else 's'}"
