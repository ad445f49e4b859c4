-- One row per file ever imported.
create table import (
    import_id varchar primary key,    -- names the file read by one mapping: the same file and mapping give the same id
    sha256 varchar not null,
    file_name varchar not null,
    kind varchar not null,            -- roster, camps, stays, plans, readings
    mapping varchar not null,         -- name of the mapping used, 'own columns' without one
    received_at timestamptz not null,
    received_by varchar not null,
    rows_in bigint not null,          -- each filled cell of a wide file counts as one
    rows_taken bigint not null,
    rows_held bigint not null,        -- open, waiting for a decision
    rows_recognised bigint not null,  -- the same value already there
    rows_rejected bigint not null,    -- refused or replaced by a decision
    withdrawn boolean not null
);
-- Rows that were not taken as they stand: why, and what is proposed.
create table held_row (
    held_id varchar primary key,      -- import_id ':' row_no ':' field
    import_id varchar not null,
    row_no integer not null,
    field varchar not null,
    rule varchar not null,
    reason varchar not null,
    athlete_text varchar,
    athlete_id varchar,
    measure varchar,
    measured_on date,
    raw_value varchar,
    raw_unit varchar,
    proposal varchar not null,        -- 'none', 'value', 'athlete', 'date', 'replace', 'whole file'
    proposed_value double,            -- canonical unit
    proposed_text varchar,            -- the proposal in words
    group_id varchar not null,        -- rows that one question settles together
    state varchar not null            -- open, accepted, mended, assigned, rejected, replaced
);
-- Rows recognised as already there.
create table recognised_row (
    import_id varchar not null,
    row_no integer not null,
    field varchar not null,
    first_import_id varchar not null,
    first_row_no integer not null
);
-- The steward's decisions as replayed by this build.
create table decision (
    decision_id varchar not null,     -- one decision may settle many rows
    decided_at timestamptz not null,
    decided_by varchar not null,
    action varchar not null,          -- accept, mend, reject, assign, withdraw, restore, reopen, join
    target varchar not null,          -- held_id or import_id; of join the athlete id that was joined
    argument varchar not null,        -- the value of mend, the athlete of assign and join, else ''
    why varchar not null,
    applied boolean not null,         -- false where the target is no longer there
    primary key (decision_id, target)
);
-- About this build. Not compared between two builds of the same inputs.
create table build_log (
    build_id varchar not null,        -- hash of landing, catalogue, decisions and code version
    made_at timestamptz not null,
    seconds double not null,
    code_version varchar not null,
    catalogue_digest varchar not null,
    landing_digest varchar not null,
    decisions_digest varchar not null,
    program_name varchar not null,
    invented boolean not null,
    clock date                        -- fixed 'today' of training data; null for real data
);
