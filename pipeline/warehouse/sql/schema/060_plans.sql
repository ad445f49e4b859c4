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
