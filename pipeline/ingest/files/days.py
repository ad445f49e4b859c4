"""Days as people write them: months of several languages, weekdays, a spreadsheet's day numbers, a clock's seconds."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

SERIAL, UNIX, UNIX_MS = "day number", "unix seconds", "unix milliseconds"
COUNTED = (SERIAL, UNIX, UNIX_MS)
_FIRST_SERIAL = datetime(1899, 12, 30)  # day 0 of the calendar that spreadsheets count from
# English, German, Spanish, French, Italian, Portuguese, Dutch: as their first letters, without accents.
_MONTHS = {
    "Jan": "jan january januar janv janvier ene enero gennaio genn gen janeiro januari",
    "Feb": "feb february februar fevr fevrier fev feb febrero febbraio febbr fevereiro februari",
    "Mar": "mar march marz maerz mrz mars marzo marco maart mrt",
    "Apr": "apr april avr avril abr abril aprile",
    "May": "may mai mayo maggio mag maio mei",
    "Jun": "jun june juni juin junio giugno giu junho",
    "Jul": "jul july juli juil juillet julio luglio lug julho",
    "Aug": "aug august aout ago agosto augustus",
    "Sep": "sep sept september septembre septiembre setiembre set settembre setembro",
    "Oct": "oct october okt oktober octobre octubre ott ottobre out outubro",
    "Nov": "nov november novembre noviembre novembro",
    "Dec": "dec december dez dezember decembre dic diciembre dicembre dezembro",
}
_MONTH_OF = {word: month for month, words in _MONTHS.items() for word in words.split()}
_OTHER_WORDS = frozenset([
    "mon",
    "monday",
    "tue",
    "tues",
    "tuesday",
    "wed",
    "weds",
    "wednesday",
    "thu",
    "thur",
    "thurs",
    "thursday",
    "fri",
    "friday",
    "sat",
    "saturday",
    "sun",
    "sunday",
    "mo",
    "montag",
    "di",
    "dienstag",
    "mi",
    "mittwoch",
    "do",
    "donnerstag",
    "fr",
    "freitag",
    "sa",
    "samstag",
    "sonnabend",
    "so",
    "sonntag",
    "lun",
    "lunes",
    "martes",
    "mie",
    "miercoles",
    "jue",
    "jueves",
    "vie",
    "viernes",
    "sab",
    "sabado",
    "dom",
    "domingo",
    "lundi",
    "mardi",
    "mer",
    "mercredi",
    "jeu",
    "jeudi",
    "ven",
    "vendredi",
    "sam",
    "samedi",
    "dim",
    "dimanche",
    "lunedi",
    "martedi",
    "mercoledi",
    "giovedi",
    "venerdi",
    "domenica",
    "maandag",
    "dinsdag",
    "woensdag",
    "donderdag",
    "vrijdag",
    "zaterdag",
    "zondag",
    "segunda",
    "terca",
    "quarta",
    "quinta",
    "sexta",
    "feira",
    "de",
    "del",
    "do",
    "den",
    "der",
    "dem",
    "the",
    "of",
    "le",
    "el",
    "am",
    "um",
    "at",
    "a",
    "las",
    "uhr",
])
_TOKEN = re.compile(r"[^\W\d_]+|\d+(?:[.:/-]\d+)*|[^\s\w]|_")


def plain_day(text: str) -> str:
    """A day written with words, or a comma before its time, as "9 Jun 2032 7:05 AM" is; other texts as they are.

    >>> plain_day("mardi 9 août 2032"), plain_day("6/14/32, 7:05 AM"), plain_day("9. Juni 2032"), plain_day("Page 2")
    ('9 Aug 2032', '6/14/32 7:05 AM', '9 Jun 2032', 'Page 2')
    """
    if not re.search(r"[^\W\d_]|,", text):
        return text
    kept: list[str] = []
    for token in _TOKEN.findall(_bare(text)):
        word = token.casefold()
        if word in ("am", "pm"):
            kept += [token.upper()] if kept and ":" in kept[-1] else []
        elif word in _MONTH_OF and not (word in _OTHER_WORDS and not kept):
            kept.append(_MONTH_OF[word])
        elif token[0].isdigit():
            kept.append(token)
        elif token.isalpha() and not (
            word in _OTHER_WORDS or (kept and word in ("st", "nd", "rd", "th", "er"))
        ):
            return text
        elif not token.isalpha() and token not in ".,":
            kept.append(token)
    months = [i for i, token in enumerate(kept) if token in _MONTHS]
    if len(months) > 1:  # "mar." is a Tuesday where another month follows
        del kept[months[0]]
    return re.sub(r"(?<=\w) ?- ?(?=\w)", "-", " ".join(kept))


def _bare(text: str) -> str:
    letters = (c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return "".join(letters).replace("º", " ").replace("a.m.", "AM").replace("p.m.", "PM")


def moments(text: str, forms: Sequence[str], zone: str = "") -> Iterator[datetime]:
    """What a text means in each form that it fits, as it stands or as `plain_day` writes it.

    A form is one of `strptime` or of COUNTED; moments of a clock's count are given as the zone's clock showed them.
    """
    plain = plain_day(text)
    for form in forms:
        if form in COUNTED:
            counted = _counted(text, form, zone)
            if counted is not None:
                yield counted
            continue
        for shown in dict.fromkeys((text, plain)):
            try:
                yield datetime.strptime(shown, form)
                break
            except ValueError:
                continue


def _counted(text: str, form: str, zone: str) -> datetime | None:
    if not re.fullmatch(r"\d+(?:\.\d+)?", text):
        return None
    number = float(text)
    if form == SERIAL:
        known = 20_000 <= number <= 80_000
        return _FIRST_SERIAL + timedelta(seconds=round(number * 86_400)) if known else None
    seconds = number / (1000 if form == UNIX_MS else 1)
    if not 600_000_000 <= seconds <= 3_800_000_000:
        return None
    return datetime.fromtimestamp(seconds, UTC).astimezone(ZoneInfo(zone or "UTC")).replace(tzinfo=None)


def one_day(text: str, forms: Sequence[str]) -> date | None:
    """The day of a text that the forms allow exactly one of; None where they allow none or two."""
    days = {moment.date() for moment in moments(text, forms)}
    return days.pop() if len(days) == 1 else None
