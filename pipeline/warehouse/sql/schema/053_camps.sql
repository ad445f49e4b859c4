-- The results of pipeline/stats/change/results.py, column for column.

-- How much the camps of a program truly differ in what they gain over the same weeks, in one line.
create table camp_spread (
    measure varchar not null,
    line varchar not null,
    weeks double,                     -- over which all compared camps are told; the shortest of them
    n_camps bigint not null,          -- compared
    n_left_out bigint not null,       -- with a gain of their own, but seen too briefly to be compared
    mean double,                      -- gain over these weeks of the program's camps
    mean_low double,
    mean_high double,
    q double,                         -- Cochran's, on n_camps - 1 degrees of freedom where camps are alike
    share double,                     -- I squared, 0 to 1
    share_low double,
    share_high double,
    spread double,                    -- tau: SD between the camps' true gains
    spread_low double,
    spread_high double,
    next_low double,                  -- true gain of one more camp of the kind
    next_high double,
    n_pairs bigint not null,
    n_apart bigint not null,
    verdict varchar not null,         -- told apart | not told apart | refused
    reason varchar not null,          -- why a number is missing
    level double not null,
    method varchar not null,
    build_id varchar not null
);

-- What one camp gained more than another over the same weeks; the intervals of all pairs of a line hold together.
create table camp_pair (
    measure varchar not null,
    line varchar not null,
    camp_id varchar not null,
    other_id varchar not null,
    weeks double not null,
    difference double not null,       -- camp less other
    low double not null,
    high double not null,
    p_adjusted double not null,       -- not below .001
    verdict varchar not null,         -- told apart | not told apart
    level double not null,
    method varchar not null,
    build_id varchar not null
);
