-- The catalogue as it was used by this build.
create table measure (
    measure varchar primary key,
    label varchar not null,
    family varchar not null,
    unit varchar not null,            -- canonical unit of every stored value
    better varchar not null,          -- 'higher', 'lower' or 'neither'
    kind varchar not null,            -- 'number' or 'rating'
    resolution double not null,
    decimals integer not null,
    trials integer not null,
    summary varchar not null,
    keep integer not null,
    typical_error double,
    smallest_change double,
    hard_low double not null,
    hard_high double not null,
    source varchar not null,
    published varchar not null,       -- what studies report, a line each; '' where none is named
    position integer not null
);
-- A line: readings that may be compared because their must-match conditions agree.
create table line (
    measure varchar not null,
    line varchar not null,            -- key, e.g. 'delivery=tee; bat=metal; device=radar'
    label varchar not null,           -- words, e.g. 'tee, metal bat, radar'
    joined_to varchar not null,       -- the line whose scale session values use; itself unless bridged
    first_on date not null,
    last_on date not null,
    n_readings bigint not null,
    n_athletes bigint not null,
    primary key (measure, line)
);
-- Offsets between two lines from days on which the same athletes were measured both ways.
create table bridge (
    measure varchar not null,
    from_line varchar not null,
    to_line varchar not null,
    shift double,                     -- add to from_line to stand on to_line
    shift_se double,
    n_pairs bigint not null,
    usable boolean not null,
    reason varchar not null
);
-- How far a value may lie from the middle of its athlete's own sessions before it is doubted: rows held, typed values
-- asked about. A measure without an allowance is not doubted in this way.
create table jump_allowance (
    measure varchar primary key,
    allowance double not null,        -- canonical unit; against the sessions near by in the same stay
    season_allowance double not null  -- against sessions of the 100 days around, where the stay has too few
);
-- One athlete on one local date.
create table session (
    session_id varchar primary key,   -- athlete_id '@' date
    athlete_id varchar not null,
    held_on date not null,
    stay_id varchar,                  -- null outside every stay
    camp_id varchar,
    week_of_stay double,              -- weeks since arrival
    is_intake boolean not null        -- within 3 days of arrival
);
-- Every accepted value of every trial, raw beside canonical.
create table reading (
    import_id varchar not null,
    row_no integer not null,          -- line of the file, header is 1
    field varchar not null,           -- column of the file that held the value
    athlete_id varchar not null,
    session_id varchar not null,
    measure varchar not null,
    line varchar not null,
    conditions varchar not null,      -- JSON object of all conditions stated
    measured_on date not null,        -- local to the camp
    measured_at timestamptz,          -- where the file gives a time
    trial integer not null,
    raw_value varchar not null,
    raw_unit varchar not null,        -- '' where the file states none
    value double not null,            -- canonical unit
    mend varchar,                     -- rule by which a steward's decision changed the raw value
    decided boolean not null,         -- stands because of a decision
    set_aside boolean not null        -- taken under a condition (fed, evening, shoes) that keeps it out of sessions
);
-- One measure of one session in one line: the summary that enters the statistics.
create table session_value (
    session_id varchar not null,
    athlete_id varchar not null,
    stay_id varchar,
    camp_id varchar,
    held_on date not null,
    weeks double,                     -- since arrival
    is_intake boolean not null,
    measure varchar not null,
    line varchar not null,            -- after joining by a bridge
    own_line varchar not null,        -- as measured
    value double not null,            -- canonical unit, on the scale of `line`
    shift double not null,            -- what the bridge added (0 without one)
    shift_se double not null,
    best double not null,
    n_trials integer not null,
    trial_sd double,
    imports varchar not null          -- ids of the imports it came from, separated by spaces
);
-- The set behind the best trial of a session whose one-repetition maximum was estimated, not lifted.
create table estimated_value (
    session_id varchar not null,
    measure varchar not null,
    own_line varchar not null,
    load double not null,             -- lifted, canonical unit
    reps integer not null,            -- 2 or more; the maximum follows by the formula in the catalogue
    primary key (session_id, measure, own_line)
);
-- A coach's rated movement observation.
create table observation (
    import_id varchar not null,
    row_no integer not null,
    field varchar not null,
    athlete_id varchar not null,
    session_id varchar not null,
    observed_on date not null,
    measure varchar not null,
    rating varchar not null,          -- 'none', 'slight' or 'marked'
    grade integer not null,           -- 0, 1, 2
    conditions varchar not null,
    line varchar not null,            -- what was alike: action or task
    rater varchar not null            -- who rated; '' where the file does not say
);
