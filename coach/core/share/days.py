"""Days and moments in records: "2027-03-14" for what books count as `date.toordinal`."""

from __future__ import annotations

import datetime


def date_of(day: int | None) -> str | None:
    """The date of a day; None of None."""
    return None if day is None else datetime.date.fromordinal(day).isoformat()


def day_of(date: str) -> int:
    """The day of a date; ValueError if there is no such date."""
    return datetime.date.fromisoformat(date).toordinal()


def due_day_of(date: str | None) -> int | None:
    """As `day_of`; None of None."""
    return None if date is None else day_of(date)


def check_moment(utc: str) -> str:
    """The moment itself; ValueError if there is none such, as on the 31st of February."""
    datetime.datetime.fromisoformat(utc)
    return utc
