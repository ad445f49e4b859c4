"""What a plan's alarm can find, in words: taken from the table, with what is not known said plainly."""

from latewood.dashboard.text.wording import THIN
from latewood.dashboard.views.plans.plan_power import HONEST, power_lines
from latewood.pipeline.stats.plans.power import GAPS, PER_WEEK, PLAN_WEEKS
from latewood.pipeline.stats.plans.results import PlanPower


def made(share):
    return tuple(
        PlanPower(
            per_week=n, plan_weeks=weeks, gap_rate=gap, week=week, called=share(n, gap, week),
            standard_error=0.01, alarm_from=0.9, n_stays=2000, day_sd=0.6, level_sd=0.1, method="m",
        )
        for n in PER_WEEK for weeks in PLAN_WEEKS for gap in GAPS for week in range(1, weeks + 1)
    )  # fmt: skip


def plain(lines):
    return " ".join(lines).replace(THIN, " ")


ROWS = made(lambda n, gap, week: min(1.0, 0.0 if week < 3 else 0.03 + gap * week * n / 20.0))


def test_a_plan_in_force_is_told_at_its_own_weighins():
    text = plain(power_lines(ROWS, 0.40, 4.5, 10.0))
    assert "Weighed 4 times a week: if nothing at all is gained, the alarm says so by week 2 in none" in text
    assert "by week 3 in 27 %, by week 4 in 35 %, by week 6 in 51 %, by week 10 in 83 %" in text
    assert "half of such stays are found by week 6" in text
    assert "if half the planned rate is gained, by week 2 in none, by week 3 in 15 %" in text
    assert "called off plan by mistake over the whole plan in 3 % of stays" in text
    assert "right to about 2.0 points" in text
    assert HONEST not in text


def test_a_plan_to_be_made_is_told_for_few_and_for_daily_weighins():
    lines = power_lines(ROWS, 0.18, None, 30.0)
    text = plain(lines)
    assert "Weighed 3 times a week" in text and "Weighed 7 times a week" in text
    assert "over the first 20 weeks" in text and "by week 20 in" in text
    assert HONEST in text  # .18 kg a week: fewer than half by week 6


def test_what_cannot_be_said_is_one_line_with_its_reason():
    assert power_lines(ROWS, 0.0, None, 10.0) == (
        "What its alarm can find: the plan asks for so little gain that a stall cannot be separated from being on "
        "plan.",
    )
    assert "not judged at all" in power_lines(ROWS, 0.3, 1.5, 10.0)[0]
    assert "not worked out yet" in power_lines((), 0.3, None, 10.0)[0]
