-- The result of pipeline/stats/links/results.py, column for column.

-- The power of body mass with which an output goes: across athletes, and within them at equal time.
create table size_exponent (
    measure varchar not null,
    line varchar not null,
    across double,                    -- per cent of the output per per cent of mass, between athletes of one sex
    across_low double,
    across_high double,
    n_across bigint not null,
    published double not null,        -- what is published for adults, across athletes
    within double,                    -- the same, for an athlete's own added mass at equal time in the program
    within_low double,
    within_high double,
    n_athletes bigint not null,
    n_sessions bigint not null,
    inflation double,
    time_form varchar not null,
    verdict varchar not null,         -- fits the published value | differs from the published value | refused
    reason varchar not null,          -- why a number is missing
    level double not null,
    method varchar not null,
    build_id varchar not null
);
