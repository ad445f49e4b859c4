-- A value that was to be expected, from what was known on a review day, beside what came.
create table past_projection (
    athlete_id varchar not null,
    stay_id varchar not null,
    camp_id varchar not null,
    measure varchar not null,
    line varchar not null,            -- as measured: no offset between devices enters
    as_of date not null,              -- the review: nothing dated later is in the projection
    made_on date not null,            -- the latest session that the review knew of
    target_on date not null,
    horizon_weeks double not null,    -- from made_on to target_on
    n_sessions bigint not null,
    n_stays bigint not null,
    form varchar not null,            -- log | linear | quadratic | last value
    value double not null,
    sd double not null,               -- of one new session, widened
    low double not null,
    high double not null,
    low_80 double not null,
    high_80 double not null,
    observed double,
    inside_80 boolean,
    inside_95 boolean,
    z double,
    crps double,
    crps_last double,                 -- of "same as last time", with the spread such guesses had until then
    outcome varchar not null,         -- scored | waiting | no test
    level double not null,
    method varchar not null,
    build_id varchar not null
);
-- How the past projections of one measure did, by how far ahead they looked.
create table projection_score (
    measure varchar not null,
    horizon varchar not null,         -- all | up to 2 weeks | 2 to 4 weeks | 4 to 8 weeks | over 8 weeks
    n_made bigint not null,
    n_waiting bigint not null,
    n_scored bigint not null,
    n_stays bigint not null,
    n_effective bigint,               -- scored projections, counted as if they were independent
    inside_80 double,                 -- share
    inside_80_low double,
    inside_80_high double,
    chance double,                    -- of a share at least so far from 80 %, were it truly 80 %
    inside_95 double,
    inside_95_low double,
    inside_95_high double,
    bias double,                      -- mean of observed less foretold
    bias_low double,
    bias_high double,
    crps double,
    crps_last double,
    verdict varchar not null,         -- as promised | too narrow | too wide | too few to say
    reason varchar not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
