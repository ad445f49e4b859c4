-- Results of the statistics, one table a class of pipeline/stats/results.py, column for column.
-- Values are in the measure's canonical unit, mass in kg, time in weeks; null where a number cannot be given.

-- How far two sessions differ when nothing changed, for one measure and line.
create table measurement_error (
    measure varchar not null,
    line varchar not null,
    basis varchar not null,           -- "own repeats" | "shrunk to the measure" | "catalogue" | "not known"
    typical_error double,
    low double,
    high double,
    trial_sd double,
    minimal_change_one double,        -- 95 %, one session against one session
    minimal_change_three double,      -- 95 %, one session against the mean of three
    smallest_worthwhile double,
    icc double,
    n_athletes bigint not null,
    n_sessions bigint not null,
    degrees double not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
-- One athlete's change over one stay in one line: the test (own line) and the size (shrunk).
create table trend (
    athlete_id varchar not null,
    stay_id varchar not null,
    camp_id varchar not null,
    measure varchar not null,
    line varchar not null,
    n_sessions bigint not null,
    n_trials bigint not null,
    first_on date not null,
    last_on date not null,
    weeks double not null,            -- that the change spans, so without an intake day that was left out
    first_value double not null,
    last_value double not null,
    fitted_start double,              -- of the line below, where it begins; it ends at fitted_start + change
    change double,                    -- own least-squares line over the stay
    low double,
    high double,
    rate_per_week double,
    rate_low double,
    rate_high double,
    z double,
    probability_better double,
    sized_change double,              -- shrunk towards the cohort (BLUP); for size, never for the test
    sized_low double,
    sized_high double,
    verdict varchar not null,         -- clear gain | clear loss | clear rise | clear fall | not clear yet | too few sessions
    reason varchar not null,
    intake_used boolean not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
-- What one camp gained in one line, adjusted for the intake day, leavers included.
create table cohort_gain (
    camp_id varchar not null,
    measure varchar not null,
    line varchar not null,
    n_enrolled bigint not null,
    n_measured bigint not null,
    n_with_exit bigint not null,
    n_left_early bigint not null,
    weeks double,
    gain double,
    low double,
    high double,
    shrunk_gain double,
    shrunk_low double,
    shrunk_high double,
    raw_gain double,                  -- last minus first of those with an exit test: shown beside, never instead
    spread double,                    -- SD of true gains between athletes
    camps_differ boolean,
    verdict varchar not null,         -- estimated | refused
    reason varchar not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
-- Change of an output per kg of the athlete's own added mass, at equal time in the program.
create table mass_link (
    scope varchar not null,           -- "program" or a camp_id
    measure varchar not null,
    line varchar not null,
    adjustment varchar not null,      -- "time" | "none" | "time and strength"
    per_kg double,
    standard_error double,
    low double,
    high double,
    between_per_kg double,            -- across athletes; a different question, shown beside
    n_athletes bigint not null,
    n_sessions bigint not null,
    inflation double,                 -- variance inflation of mass on time within athletes
    time_form varchar not null,
    verdict varchar not null,         -- estimated | not told from zero | refused
    reason varchar not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
-- One athlete's observed change beside the change that goes with their added mass.
create table athlete_link (
    athlete_id varchar not null,
    stay_id varchar not null,
    measure varchar not null,
    line varchar not null,
    observed double,
    observed_low double,
    observed_high double,
    mass_change double,
    mass_change_low double,
    mass_change_high double,
    expected double,
    expected_low double,
    expected_high double,
    left_over double,
    left_over_low double,
    left_over_high double,
    n_sessions bigint not null,
    verdict varchar not null,         -- estimated | refused
    reason varchar not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
-- One row of the account of one athlete's change: where it began, what it is made of, where it ended.
create table account_row (
    athlete_id varchar not null,
    stay_id varchar not null,
    measure varchar not null,
    line varchar not null,
    position bigint not null,         -- of the row in its account, from 0
    row varchar not null,             -- start | time | learning | mass | strength | unexplained | end
    amount double,                    -- start + the given rows between = end, to the last bit; null: within another row
    low double,
    high double,
    bracket varchar not null,         -- what the row cannot be separated from, or why it stands empty
    mass_change double,               -- kg over the same sessions, on the row of mass
    n_sessions bigint not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
-- How much of a young athlete's change in mass fits their growth in height, by the published reference.
create table growth_share (
    athlete_id varchar not null,
    stay_id varchar not null,         -- in which the later height was measured
    span varchar not null,            -- "stay" | "all stays"
    first_on date not null,
    last_on date not null,
    n_heights bigint not null,
    height_change double,             -- cm
    height_low double,
    height_high double,
    gained double,                    -- kg between the two days, by the smoothed mass
    gained_low double,
    gained_high double,
    fits_growth double,               -- kg; same body mass index percentile for age at the height now reached
    fits_low double,                  -- measurement error of height and mass only
    fits_high double,
    by_age double,                    -- kg; same weight percentile for age, whatever the height did
    beyond double,                    -- gained less fits_growth
    beyond_low double,
    beyond_high double,
    verdict varchar not null,         -- shown | refused
    reason varchar not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
-- Where an athlete's latest value stands among athletes of similar age, height and mass.
create table peer_standing (
    athlete_id varchar not null,
    measure varchar not null,
    line varchar not null,
    as_of date not null,
    value double not null,
    percentile double,                -- 0-100, higher always means better (or more, where neither is better)
    low double,
    high double,
    n_effective double not null,
    n_pool bigint not null,
    distance double,                  -- of the athlete from the middle of the pool, Mahalanobis
    reference varchar not null,
    verdict varchar not null,         -- shown | shown with caution | refused
    reason varchar not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
-- One of the peers nearest in build: listed, never themselves the percentile.
create table peer_neighbour (
    athlete_id varchar not null,
    measure varchar not null,
    line varchar not null,
    peer_id varchar not null,
    weight double not null,
    value double not null,
    age_years double not null,
    height_cm double not null,
    mass_kg double not null,
    build_id varchar not null
);
-- A value expected at a date or at a body mass, with the interval for one new session.
create table projection (
    athlete_id varchar not null,
    stay_id varchar not null,
    measure varchar not null,
    line varchar not null,
    kind varchar not null,            -- "date" | "mass"
    made_on date not null,
    target_on date,
    target_kg double,
    value double,
    low double,
    high double,
    form varchar not null,            -- log | linear | quadratic | last value
    n_sessions bigint not null,
    n_athletes bigint not null,
    verdict varchar not null,         -- shown | refused
    reason varchar not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
-- Body mass of one day of one stay: live (only what was known that day) and smoothed.
create table mass_trend (
    athlete_id varchar not null,
    stay_id varchar not null,
    on_date date not null,
    kg double not null,
    kg_se double not null,
    rate double not null,             -- kg per week
    rate_se double not null,
    smoothed_kg double not null,
    smoothed_se double not null,
    smoothed_rate double not null,
    smoothed_rate_se double not null,
    n_weighins bigint not null,       -- so far in the stay
    build_id varchar not null
);
-- Whether one weigh-in entered the mass trend, and if not, why.
create table weighin_use (
    athlete_id varchar not null,
    stay_id varchar not null,
    measured_on date not null,
    kg double not null,
    used boolean not null,
    reason varchar not null,
    build_id varchar not null
);
-- One weight plan on the day of its latest weigh-in.
create table plan_review (
    plan_id varchar not null,
    athlete_id varchar not null,
    stay_id varchar not null,
    as_of date not null,
    n_weighins bigint not null,
    weighins_two_weeks bigint not null,
    weeks_in double not null,
    weeks_left double not null,
    trend_kg double,
    trend_low double,
    trend_high double,
    rate double,                      -- kg per week
    rate_low double,
    rate_high double,
    rate_percent double,              -- of body mass per week
    planned_rate double not null,
    ceiling_rate double,
    needed_rate double,
    line_kg double,                   -- the plan's own line on that day
    forecast_kg double,
    forecast_low double,
    forecast_high double,
    chance_target double,
    chance_below_plan double,
    chance_above_ceiling double,
    chance_losing double,
    reachable_kg double,              -- at the ceiling by the target date
    extra_weeks double,               -- the target date would move by this much at the ceiling
    status varchar not null,
    needs_decision boolean not null,
    false_alarm double,               -- share of stays on plan that ever raise this status
    reason varchar not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
