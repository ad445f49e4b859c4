-- The results of pipeline/stats/movement/results.py, column for column.

-- How often the segments of one day peaked in the order of the chain: each pair of neighbours, and all of them.
create table peak_order (
    athlete_id varchar not null,
    measured_on date not null,
    action varchar not null,
    line varchar not null,            -- what was alike: action, sensor class, event
    part varchar not null,            -- segments in the order of the chain, '>' between; empty without any verdict
    is_whole boolean not null,        -- all segments measured that day, and not one pair of neighbours
    n bigint not null,                -- trials that have every segment of the part
    n_order bigint not null,
    n_together bigint not null,       -- no pair out of order, but one within the tie window
    n_out bigint not null,
    n_trials bigint not null,         -- trials of the day
    share double,                     -- in order, of n
    low double,
    high double,
    lag_ms double,                    -- middle of later minus earlier peak; pairs only
    tie_ms double,                    -- peaks closer than this count as together
    design_effect double,             -- by how much days differ more than chance would make trials differ
    missing varchar not null,         -- segments of the chain that were not measured, ',' between
    out_trials varchar not null,      -- trials out of order, ',' between
    verdict varchar not null,         -- given | refused
    reason varchar not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);

-- The share of trials in order on the latest day against the first and against the one before.
create table order_change (
    athlete_id varchar not null,
    action varchar not null,
    line varchar not null,
    part varchar not null,
    is_whole boolean not null,
    since varchar not null,           -- first | previous
    from_on date not null,
    to_on date not null,
    n_from bigint not null,
    n_to bigint not null,
    share_from double,
    share_to double,
    difference double,
    low double,
    high double,
    design_effect double,
    verdict varchar not null,         -- more often in order | less often in order | no clear change | refused
    reason varchar not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);

-- How far trials agree on the order beyond chance, within a day and between the days of an athlete.
create table order_repeatability (
    action varchar not null,
    line varchar not null,
    part varchar not null,
    is_whole boolean not null,
    n_athletes bigint not null,
    n_sessions bigint not null,
    n_trials bigint not null,
    within_day double,                   -- Krippendorff's alpha, ordinal: 1 perfect, 0 as by chance
    within_low double,
    within_high double,
    n_returning bigint not null,      -- athletes with two days or more
    across_days double,
    across_low double,
    across_high double,
    verdict varchar not null,         -- given | refused
    reason varchar not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
