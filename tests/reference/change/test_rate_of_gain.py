"""The ceiling of a weight plan: 0.25-0.5 % of body mass a week for novices and intermediates.

Iraki, Fitschen, Espinar, Helms 2019, Sports 7(7):154 (adults); worked by hand at 70 and 90 kg.
"""

import pytest

from latewood.pipeline.stats.plans.rules import PlanSettings


@pytest.mark.parametrize(("mass", "low", "high"), [(70.0, 0.175, 0.350), (90.0, 0.225, 0.450)])
def test_offered_rate_and_ceiling_are_the_ends_of_the_advised_range(mass, low, high):
    settings = PlanSettings()
    assert settings.plan_percent / 100.0 * mass == pytest.approx(low)
    assert settings.ceiling_percent / 100.0 * mass == pytest.approx(high)


def test_the_ceiling_is_below_the_rates_that_mostly_added_fat():
    # 0.7 % a week: Garthe, Raastad, Refsnes, Sundgot-Borgen 2013, Eur J Sport Sci 13:295-303 (fat mass +15 %,
    # lean gain no different from slower gain).
    assert PlanSettings().ceiling_percent < 0.7
