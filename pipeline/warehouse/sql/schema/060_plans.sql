-- Decisions about weight plans, as written down on the screen. Nothing medical: a referral says only that one was made.
create table plan_decision (
    event_id varchar primary key,
    decided_at timestamptz not null,
    decided_on date not null,         -- local to the program
    decided_by varchar not null,
    plan_id varchar not null,
    athlete_id varchar not null,
    decision varchar not null,        -- keep, raise intake, lower intake (adults), slow the gain, with the dietitian, change target, pause, refer
    review_on date,
    attendance_poor boolean not null, -- intake, sleep or attendance noted as poor
    note varchar not null
);
-- Tests of athletes on a plan: first test days against the latest.
create table plan_guard (
    plan_id varchar not null,
    measure varchar not null,
    line varchar not null,
    role varchar not null,            -- strength, strength per kg, split, output
    n_before bigint not null,
    n_after bigint not null,
    before_on date not null,
    after_on date not null,
    before double not null,           -- mean of sessions; strength per kg is a ratio
    after double not null,
    change double not null,           -- strength per kg: relative
    standard_error double not null,
    chance_better double not null,
    chance_worse double not null,     -- by more than margin
    margin double not null,
    build_id varchar not null
);
-- The first matching row of the weekly decision table for each plan.
create table plan_advice (
    plan_id varchar not null,
    table_row varchar not null,       -- 0 to 14, 'barred', 'above', 'unlikely', or 'open' where no row matches
    words varchar not null,
    offered varchar not null,
    why varchar not null,
    height_change double,             -- cm since the plan began
    build_id varchar not null
);
-- Mass and rate at the last weigh-in of each stay, for chances of other targets and dates.
create table plan_state (
    stay_id varchar not null,
    plan_id varchar not null,         -- '' where the stay has no plan
    as_of date not null,
    kg double not null,
    kg_se double not null,
    rate double not null,             -- kg per week
    rate_se double not null,
    covariance double not null,
    level_sd double not null,         -- kg per root day
    rate_sd double not null,          -- kg per week per root day
    build_id varchar not null
);
-- The rate of mass before and after each decision about a plan.
create table plan_since (
    event_id varchar not null,
    plan_id varchar not null,
    decided_on date not null,
    n_before bigint not null,
    rate_before double,
    before_low double,
    before_high double,
    n_after bigint not null,
    days_after bigint not null,
    rate_after double,
    after_low double,
    after_high double,
    reason varchar not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
-- Where young athletes stand to the growth peak, in three wide classes.
create table growth_stage (
    athlete_id varchar not null,
    as_of date not null,
    stage varchar not null,           -- before, around, after the growth peak, or uncertain
    method varchar not null,
    reason varchar not null,
    build_id varchar not null
);
