-- One row per athlete on the roster. Birth date is restricted: it never leaves in an export.
create table athlete (
    athlete_id varchar primary key,   -- the program's own id, as on the roster
    display_name varchar not null,    -- name as written on the roster
    birth_date date,                  -- restricted; used for age, never exported
    sex varchar,                      -- 'male' or 'female'
    sport varchar,                    -- 'baseball' or 'softball'
    graduation_year integer,
    positions varchar,                -- ordered, separated by '/'
    bats varchar,                     -- 'R', 'L' or 'S'
    throws varchar,                   -- 'R' or 'L'
    import_id varchar not null,
    row_no integer not null
);
-- Other spellings under which the same athlete appears in files.
create table alias (
    athlete_id varchar not null,
    alias varchar not null,
    origin varchar not null           -- 'roster', 'decision', or 'joined' of an id that was joined into this one
);
-- Ids that a steward joined into another, with each name under which their own rows came.
create table joined_name (
    joined_id varchar not null,
    athlete_id varchar not null,      -- as which the id is read
    name varchar not null,            -- the id itself, its name or an alias on the roster
    primary key (joined_id, name)
);
-- One row per camp.
create table camp (
    camp_id varchar primary key,
    label varchar not null,
    starts_on date not null,
    ends_on date not null,
    time_zone varchar not null,       -- IANA name; dates of sessions are local to it
    place varchar,
    import_id varchar not null,
    row_no integer not null
);
-- One athlete at one camp, from intake to exit.
create table stay (
    stay_id varchar primary key,      -- athlete_id '@' camp_id; a second stay at the camp adds '/2'
    athlete_id varchar not null,
    camp_id varchar not null,
    arrived_on date not null,         -- intake
    left_on date,                     -- exit; null while the athlete is there
    planned_until date not null,      -- the exit agreed at intake (camp end where not stated)
    left_early boolean not null,      -- left more than 3 days before planned_until
    leave_reason varchar,             -- a code such as 'family', 'school'; no medical text
    training_group varchar,           -- as the program names it, such as 'morning lift'
    import_id varchar not null,
    row_no integer not null
);
-- Weight plans, one row per version of a plan.
create table plan (
    plan_id varchar not null,
    version integer not null,         -- the highest version is the one in force
    athlete_id varchar not null,
    stay_id varchar,
    start_on date not null,
    start_kg double not null,
    target_on date not null,
    target_kg double not null,
    unit varchar not null,            -- of both masses as they came
    ended_on date,                    -- null while active
    purpose varchar,
    made_by varchar,
    approved_by varchar,              -- guardian; under 16 also a physician or dietitian
    reason varchar,                   -- required where the planned rate is at the ceiling
    start_answer varchar,             -- why a start over 1 kg from the trend of the weigh-ins is right
    import_id varchar not null,
    row_no integer not null,
    primary key (plan_id, version)
);
