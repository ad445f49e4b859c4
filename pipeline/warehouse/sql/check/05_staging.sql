-- A text that recurs in the files is kept as the number of its place among all such, in order, and read as what it is.
create temp type written as enum (select text from written_text);
-- Values as they stand in the files, one row each; lookups from distinct texts are filled beside it.
create temp table staged_file (
    import_seq integer, import_id varchar, date_format varchar, decimal_mark varchar, received_on date
);
create temp table cell (
    seq bigint, import_seq integer, row_no integer, field written,
    athlete_text written, date_text varchar, time_text varchar, measure_text written,
    raw_value varchar, raw_unit written, trial_text written, reps_text written, angle_text written,
    rater_text written,  -- who rated; counts for ratings only
    combination integer,
    lost varchar  -- why a channel of a trace has no peak; null for all other values
);
create temp table look_athlete (
    athlete_text written, athlete_id varchar, problem varchar, suggestion varchar,
    slot boolean  -- a place in a list, such as a bare number: it may mean somebody else in the next file
);
-- What the rules of sql/hold hold; a query names `seq` and, where it proposes something, the others.
create temp table hold (
    seq bigint, priority double, rule varchar, proposal varchar default 'none', proposed double, detail varchar,
    group_id varchar
);
create temp table look_measure (measure_text written, measure varchar);
create temp table look_unit (measure varchar, raw_unit written, factor double, unit varchar);
create temp table look_date (import_id varchar, date_text varchar, date_format varchar, on_date date, clock time, other_date date, problem varchar);
create temp table look_number (measure varchar, raw_value varchar, number double);
create temp table look_reps (measure varchar, reps_text written, factor double);
create temp table look_line (
    measure varchar, combination integer, line varchar, conditions varchar, set_aside boolean, problem varchar, detail varchar
);
create temp table multiplier (measure varchar, unit varchar, rule varchar, factor double, other_unit varchar);
-- stage is 'row', 'date' or 'correction': a yes to a day is no yes to what else is wrong with the row, and a yes to a
-- mend is not a yes to replacing what is already there.
create temp table row_decision (
    import_id varchar, row_no integer, field varchar, stage varchar, action varchar, argument varchar
);
create temp table assignment (import_id varchar, row_no integer, field varchar, athlete_id varchar, rule varchar);
create temp table band (measure varchar, sport varchar, age_low double, age_high double, low double, high double);
-- Whom a place in a list stands for, on one day of one file only.
create temp table slot_answer (import_id varchar, athlete_text written, day varchar, athlete_id varchar);
create temp table sentinel (number double);
