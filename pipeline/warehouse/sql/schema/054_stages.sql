-- The result of pipeline/stats/peers/results.py, column for column.

-- Where a young athlete stands among those of their age and among those of their growth stage.
create table peer_stage (
    athlete_id varchar not null,
    measure varchar not null,
    line varchar not null,
    as_of date not null,
    value double not null,
    basis varchar not null,           -- age | growth stage
    group_low double,                 -- by age: from this age in years
    group_high double,
    stage varchar not null,           -- before | around | after the growth peak | uncertain
    n_peers bigint not null,
    n_below double not null,          -- ties count a half
    percentile double,                -- 0-100, higher always means better (or more, where neither is better)
    low double,
    high double,
    reference varchar not null,
    verdict varchar not null,         -- shown | refused
    reason varchar not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
