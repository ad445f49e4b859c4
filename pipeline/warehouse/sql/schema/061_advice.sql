-- How many simulated stays the off-plan alarm has called by each weekly look; the noise is the program's own.
create table plan_power (
    per_week bigint not null,         -- weigh-ins
    gap_rate double not null,         -- kg a week below the planned rate from the first day on; 0: exactly on plan
    week bigint not null,             -- of the plan
    called double not null,           -- share of the stays
    standard_error double not null,   -- of the share, from the number of simulated stays
    n_stays bigint not null,
    day_sd double not null,           -- kg, of one weigh-in around the trend
    level_sd double not null,         -- kg per root day
    method varchar not null,
    build_id varchar not null
);
-- What so many more test days would do to a change that is not clear yet, in a stay that still runs.
create table retest_advice (
    athlete_id varchar not null,
    stay_id varchar not null,
    measure varchar not null,
    line varchar not null,
    extra bigint not null,            -- more test days
    weeks_apart double not null,      -- of the new days, from the last one on
    sure_now double not null,         -- chance that the change has the direction it shows
    sure_then double not null,        -- the same, where the new days show what the athlete's own line ends with
    clear_then boolean not null,      -- whether the verdict would then be clear
    chance_clear double not null,     -- chance that the verdict is clear after these days, whatever they show
    n_sessions bigint not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
-- What so many more test days would do to a test beside a weight plan that is not sure either way.
create table guard_retest (
    plan_id varchar not null,
    measure varchar not null,
    line varchar not null,
    role varchar not null,            -- strength, split, output
    asks varchar not null,            -- slower, up
    extra bigint not null,            -- more test days within two weeks of the latest one
    chance_now double not null,       -- that it is slower by the margin, or up
    chance_then double not null,      -- the same, where the new days show what the latest ones did
    chance_sure double not null,      -- chance that it is then as sure as the decision table asks
    chance_not double not null,       -- chance that it is then more likely not so
    method varchar not null,
    build_id varchar not null
);
