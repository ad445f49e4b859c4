"""Athletes whose rows matter to the checks: siblings, whose weigh-ins were swapped, and one true oddity."""

from __future__ import annotations

from datetime import date

from saltmarsh.story import female, male

OTHERS = (
    male(
        "Lorcan Heronreed",
        date(2015, 1, 25),
        "RF",
        "RR",
        "D",
        "tall and very light, gains a fifth of their mass smoothly; no error",
        height=((0, 191.0), (70, 191.4)),
        mass=((0, 62.0), (70, 74.4)),
        strength=((0, 101), (70, 124)),
        path_camp="D",
    ),
    male(
        "Anselm Pebblewade",
        date(2015, 7, 2),
        "C",
        "RR",
        "D",
        "brothers whose weigh-ins were swapped once",
        height=((0, 182.0), (70, 182.1)),
        mass=((0, 81.0), (70, 82.0)),
        strength=((0, 139), (70, 148)),
        path_camp="D",
    ),
    male(
        "Corin Pebblewade",
        date(2017, 9, 12),
        "SS",
        "RR",
        "D",
        "brothers whose weigh-ins were swapped once",
        height=((0, 167.0), (70, 168.6)),
        mass=((0, 56.2), (70, 57.4)),
        strength=((0, 93), (70, 103)),
        path_camp="D",
    ),
    male(
        "Jory Osierholt",
        date(2014, 11, 3),
        "3B",
        "RR",
        "A",
        "siblings whose weigh-ins were swapped once",
        height=((0, 178.0), (70, 178.4)),
        mass=((0, 77.4), (70, 78.6)),
        strength=((0, 129), (70, 139)),
        path_camp="A",
    ),
    female(
        "Tamsin Osierholt",
        date(2016, 1, 15),
        "CF",
        "RR",
        "A",
        "siblings whose weigh-ins were swapped once",
        height=((0, 165.0), (70, 165.5)),
        mass=((0, 58.6), (70, 59.2)),
        strength=((0, 84), (70, 92)),
        path_camp="A",
    ),
)
