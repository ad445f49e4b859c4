-- The results of pipeline/stats/links/results.py, column for column.

-- What goes with a kg of own added mass in the mean over camps, and how much camps differ in it, in one line.
create table link_spread (
    measure varchar not null,
    line varchar not null,
    n_camps bigint not null,          -- pooled: with a link of their own
    n_left_out bigint not null,       -- whose own link is refused
    n_athletes bigint not null,       -- athlete-camps: somebody who came to two counts twice
    n_shared bigint not null,         -- athletes who came to more than one of the pooled camps
    mean double,                      -- per kg, over camps of the kind
    mean_low double,
    mean_high double,
    spread double,                    -- tau: SD between the camps' true values per kg
    spread_low double,
    spread_high double,
    share double,                     -- I squared, 0 to 1
    next_low double,                  -- true value per kg of one more camp of the kind
    next_high double,
    verdict varchar not null,         -- estimated | not told from zero | refused
    reason varchar not null,          -- why a number is missing
    level double not null,
    method varchar not null,
    build_id varchar not null
);
