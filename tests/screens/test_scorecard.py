"""The tool reports on its own projections: on the athlete page and behind a camp's number."""

from tests.screens.test_screens import ask, text_of


def test_a_projection_stands_beside_how_past_ones_did(demo_root, open_screen):
    athlete = ask(
        demo_root,
        "select athlete_id from projection p join projection_score s using (measure) where p.verdict = 'shown' and "
        "kind = 'date' and s.horizon = 'all' and s.verdict <> 'too few to say' order by 1",
    )[0]
    page = open_screen(demo_root, "athlete", athlete=athlete, section="all")
    page.session_state["athlete_scores"] = True  # the fold, opened
    text = text_of(page.run())
    assert "How past ones did (" in text
    assert "inside their 80 % range" in text
    made, scored = ask(
        demo_root, "select sum(n_made), sum(n_scored) from projection_score where horizon = 'all'"
    )
    assert f"{made:,} projections made: {scored:,} met a test day" in text


def test_the_table_behind_a_number_is_that_of_its_measure(demo_root, open_screen):
    camp, measure, line = ask(
        demo_root,
        "select camp_id, measure, line from past_projection where outcome = 'scored' and measure = 'exit_speed' "
        "order by camp_id desc",
    )
    made = ask(demo_root, f"select count(*) from past_projection where measure = '{measure}'")[0]
    text = text_of(open_screen(demo_root, "behind", camp=camp, measure=f"{measure}|{line}"))
    assert f"{made:,} projections made" in text
    assert "What a review would have said, knowing nothing later" in text


def test_without_projections_the_screens_say_so(one_root, open_screen):
    assert ask(one_root, "select count(*) from past_projection") == (0,)
    text = text_of(open_screen(one_root, "athlete", athlete="T1", section="all"))
    assert "inside their 80 % range" not in text


def test_stored_scores_are_counts_of_the_stored_projections(demo_root):
    stored = ask(
        demo_root,
        "select sum(n_made), sum(n_waiting), sum(n_scored) from projection_score where horizon = 'all'",
    )
    counted = ask(
        demo_root,
        "select count(*), count(*) filter (outcome = 'waiting'), count(observed) from past_projection",
    )
    assert stored == counted
    assert ask(demo_root, "select count(*) from past_projection where target_on <= as_of") == (0,)
    late = "select count(*) from past_projection where made_on > as_of or (outcome = 'scored' and z is null)"
    assert ask(demo_root, late) == (0,)
