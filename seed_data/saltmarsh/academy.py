"""The fixed frame of the invented academy: clock, camps, planted constants, words for names."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

SEED = 20330801
CLOCK = date(2033, 8, 1)
ORIGIN = date(2031, 6, 1)
N_DAYS = (date(2033, 9, 20) - ORIGIN).days
TIME_ZONE = "America/New_York"

KG_PER_LB = 0.45359237
MPS_PER_MPH = 0.44704
MPS_PER_KMH = 1 / 3.6
CM_PER_IN = 2.54


@dataclass(frozen=True, slots=True, kw_only=True)
class Camp:
    """One camp: `tests` are days after the start; `early` is how many leave before the agreed exit."""

    key: str
    label: str
    starts_on: date
    days: int
    baseball: int
    softball: int
    tests: tuple[int, ...]
    early: int
    extra_days: int = 0

    @property
    def ends_on(self) -> date:
        """The last day on which an athlete of this camp may still be there."""
        return self.starts_on + timedelta(days=self.days + self.extra_days)

    def day(self, offset: int) -> date:
        """The date that many days after the start."""
        return self.starts_on + timedelta(days=offset)


_LONG, _WINTER = (1, 3, 21, 42, 68), (1, 3, 28, 54)
CAMPS = (
    Camp(
        key="A",
        label="Summer 31",
        starts_on=date(2031, 6, 16),
        days=70,
        baseball=26,
        softball=10,
        tests=_LONG,
        early=2,
    ),
    Camp(
        key="B",
        label="Winter 31-32",
        starts_on=date(2031, 12, 1),
        days=56,
        baseball=23,
        softball=9,
        tests=_WINTER,
        early=2,
    ),
    Camp(
        key="C",
        label="Spring 32",
        starts_on=date(2032, 4, 5),
        days=21,
        baseball=19,
        softball=9,
        tests=(1, 3, 18),
        early=0,
    ),
    Camp(
        key="D",
        label="Summer 32",
        starts_on=date(2032, 6, 14),
        days=70,
        baseball=31,
        softball=13,
        tests=_LONG,
        early=5,
    ),
    Camp(
        key="E",
        label="Winter 32-33",
        starts_on=date(2032, 11, 29),
        days=56,
        baseball=24,
        softball=10,
        tests=_WINTER,
        early=2,
    ),
    # The second and third intake of camp F stay two weeks longer than the first.
    Camp(
        key="F",
        label="Summer 33",
        starts_on=date(2033, 6, 13),
        days=70,
        baseball=34,
        softball=14,
        tests=_LONG,
        early=1,
        extra_days=14,
    ),
)
CAMP = {c.key: c for c in CAMPS}

# Planted constants, (baseball, softball) where they differ. Speeds in mph, mass and strength in kg, times in s.
EXIT_PER_KG = {"baseball": 0.25, "softball": 0.22}
EXIT_PER_KG_SPREAD = 0.06
EXIT_PER_STRENGTH_KG = {"baseball": 0.040, "softball": 0.035}
EXIT_PRACTICE = (0.10, 0.12)
EXIT_LEARNING = 0.6
EXIT_SESSION_SD, SWING_SD, MISHIT_SHARE, MISHIT_LOSS = 1.1, 3.5, 0.04, (8.0, 20.0)
EXIT_OPTICAL_OFFSET = 1.2
BRIDGED = {"baseball": 18, "softball": 8}
THROW_PER_KG, THROW_PER_STRENGTH_KG, THROW_PRACTICE = 0.12, 0.020, (0.05, 0.06)
THROW_SESSION_SD, THROW_TRIAL_SD = 0.9, 1.6
SPRINT60_PER_KG, SPRINT60_PER_STRENGTH_KG, SPRINT60_PRACTICE = 0.012, -0.004, -0.010
SPRINT60_SESSION_SD, SPRINT60_TRIAL_SD = 0.07, 0.05
HAND_OFFSET, HAND_EXTRA_SD = -0.24, 0.08
SPLIT_SHARE = {10: 0.14, 30: 0.50}
SPLIT_SESSION_SD = {10: 0.03, 30: 0.045}
SPLIT_TRIAL_SD = {10: 0.02, 30: 0.03}
CMJ_PER_KG, CMJ_PER_STRENGTH_KG, CMJ_PRACTICE = -0.10, 0.08, 0.15
JUMP_SESSION_SD = {"cmj": 1.5, "broad": 5.0, "medball": 0.25}
JUMP_TRIAL_SD = {"cmj": 1.2, "broad": 4.0, "medball": 0.25}
STRENGTH_SESSION_SD = 4.0
MASS_RATE_PLAN, MASS_RATE_FREE = (0.28, 0.16), (0.05, 0.10)
STRENGTH_RATE = (1.1, 0.7)
MASS_OFF, STRENGTH_OFF = (-0.08, 0.10), (-0.4, 0.5)
MASS_WANDER_SD, MASS_WANDER_DAYS = 0.05, 28.0  # beside the holds, see `holds`
WATER_PHI, WATER_SD, SCALE_SD = 0.5, 0.42, 0.27
HEIGHT_SESSION_SD, HEIGHT_TRIAL_SD = 0.2, 0.15
MISSING_TEST, MISSING_WEIGHIN, AFTER_FOOD = 0.06, 0.12, 0.08


def _words(text: str) -> tuple[str, ...]:
    return tuple(text.split())


GIVEN_MALE = _words(
    "Aurelio Bastian Cormac Dashiell Eamon Faustino Gideon Hamza Ivo Jorah Kenji Leocadio Makoa Nikolai Orson "
    "Pascal Quade Rafi Stellan Tiernan Ulises Viggo Wendell Xavi Yannick Zephyr Amadou Branko Cillian Dov Emeka "
    "Florian Goran Haruki Isidro Jabari Kofi Lazaro Matthias Nasir Osvaldo Piotr Rémy Søren Tadeo Uriel Vicente "
    "Óscar Iñaki André Björn Jürgen Anders Benedikt Caspian Desmond Ezra Finnian Galen Hollis Ignatius Jasper "
    "Keanu Lucan Merrick Niall Octavio Phineas Ronan Silas Thane Umberto Verne Wystan Yusuf Zoltan Alaric Bram "
    "Cyprian Drystan Evander Fenn Gareth Hale Idris Joaquin Kester Leif Milo Nestor Odell Perrin Rasmus Sorley "
    "Tevita Ugo Vaughn Wilder Yael Zeb"
)
GIVEN_FEMALE = _words(
    "Anneliese Brisa Calla Delphine Eluned Fiadh Ginevra Hana Isaura Juno Keziah Lumi Marisol Nerys Odalys "
    "Paloma Quenby Romilly Sunniva Thandi Una Verity Wilhelmina Ximena Yuki Zinnia Zoë Renée Chloé Maëlle Amara "
    "Birgit Cosima Dagny Esperanza Freya Greer Hedda Imani Jessamy Kalea Linnea Mireille Noemi Oriana Petra "
    "Rosalba Saoirse Tindra Vesna Winifred Yara"
)
SURNAME_FIRST = _words(
    "Sedge Tansy Heron Lichen Samphire Cockle Dune Fescue Gorse Juniper Larch Mallow Nettle Osier Pebble Plover "
    "Rush Sorrel Teasel Umber Vetch Yarrow Bramble Cinder Drift Ember Glimmer Harrow Loam Moss Otter Shingle "
    "Thrift Whin Curlew Saltern Bittern Cress Dapple Fallow Sundew Myrtle"
)
SURNAME_LAST = _words(
    "shoal tarn wisp spindle lantern hollow strand reed combe fathom mere skerry thicket fen whistle glass dapple "
    "kelp thorn wade holt"
)
