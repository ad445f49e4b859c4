"""The test days of a camp, as the column `test_days` of a camps file states them."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta

GRACE_DAYS = 3  # a camp may test before its first day and after its last one, as stays may


def read_test_days(text: str, form: str, starts: date, ends: date) -> tuple[date, ...]:
    """The days in order, each once; they are separated by semicolons, bars or spaces.

    Raises ValueError saying which day is wrong and what is accepted.

    >>> read_test_days("2033-07-05; 2033-06-14", "%Y-%m-%d", date(2033, 6, 13), date(2033, 9, 5))
    (datetime.date(2033, 6, 14), datetime.date(2033, 7, 5))
    """
    result = {_day(one, form, starts, ends) for one in re.split(r"[;|\s]+", text.strip()) if one}
    return tuple(sorted(result))


def _day(text: str, form: str, starts: date, ends: date) -> date:
    try:
        on = datetime.strptime(text, form).date()
    except ValueError:
        raise ValueError(
            f"{text!r} is not a date written as {form}; write the days with semicolons between them"
        ) from None
    if not starts - timedelta(days=GRACE_DAYS) <= on <= ends + timedelta(days=GRACE_DAYS):
        raise ValueError(f"{on} is outside the camp, {starts} to {ends}; correct the day or the camp")
    return on
