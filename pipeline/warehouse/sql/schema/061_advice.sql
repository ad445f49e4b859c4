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
