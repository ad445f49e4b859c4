"""Each list of verdicts says what is chance and can be cut to what stands among all of them."""

from tests.opening import links_of
from tests.screens.test_screens import ask, text_of


def test_the_boards_say_how_many_flags_are_chance(demo_root, open_screen):
    camp = ask(demo_root, "select camp_id from trend where verdict like 'clear%' order by camp_id desc")[0]
    assert "look like a change" in text_of(open_screen(demo_root, "cohorts", camp=camp))
    roster = text_of(open_screen(demo_root, "athlete", camp=camp))
    assert "would look clear today" in roster
    assert "about 1 in 10 sure ones is luck" in roster
    assert "would still raise an alarm" in text_of(open_screen(demo_root, "plans"))


def test_the_toggle_leaves_only_what_stands_behind_a_number(demo_root, open_screen):
    camp, measure, line, n = ask(
        demo_root,
        "select camp_id, measure, line, count(*) from trend group by all having "
        "count(*) filter (verdict like 'clear%') >= 2 and count(*) filter (verdict = 'not clear yet') > 10 "
        "order by camp_id desc, measure",
    )
    page = open_screen(demo_root, "behind", camp=camp, measure=f"{measure}|{line}")
    assert len(links_of(page)) == n + 1
    page.toggle(key="behind_standing").set_value(True).run()
    assert not page.exception
    assert len(links_of(page)) < n / 2


def test_the_toggle_on_one_athlete_says_when_nothing_stands(demo_root, open_screen):
    athlete = ask(
        demo_root,
        "select athlete_id from trend group by athlete_id having count(*) filter (verdict like 'clear%') = 0 "
        "and count(*) filter (verdict = 'not clear yet') > 3 order by 1",
    )[0]
    page = open_screen(demo_root, "athlete", athlete=athlete, section="all")
    page.toggle(key="athlete_standing").set_value(True).run()
    assert not page.exception
    assert "No change is sure with all of this stay looked at together" in text_of(page)
