"""Days in words."""

from __future__ import annotations

from datetime import date

_MONTHS = "January February March April May June July August September October November December"
MONTHS = tuple(_MONTHS.split())
WEEK_DAYS = 7


def date_words(day: int) -> str:
    """ "14 March", of a day as `date.toordinal` counts."""
    found = date.fromordinal(day)
    return f"{found.day} {MONTHS[found.month - 1]}"


def short_date(day: int) -> str:
    """ "14 Mar"."""
    found = date.fromordinal(day)
    return f"{found.day} {MONTHS[found.month - 1][:3]}"


def span_words(days: int) -> str:
    """ "in two weeks", "in 12 days", "since the day before"."""
    if days == 1:
        return "since the day before"
    weeks, left = divmod(days, WEEK_DAYS)
    if left or not weeks:
        return f"in {days} days"
    return "in a week" if weeks == 1 else f"in {count_words(weeks)} weeks"


def count_words(count: int) -> str:
    """Small numbers in letters."""
    letters = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
    return letters[count] if count < len(letters) else str(count)


def mondays(first_day: int, last_day: int) -> list[int]:
    """Of all weeks that begin from `first_day` to `last_day`; 0001-01-01, day 1, was a Monday."""
    start = first_day + (1 - first_day) % WEEK_DAYS
    return list(range(start, last_day + 1, WEEK_DAYS))
