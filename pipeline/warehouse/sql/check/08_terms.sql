-- Ids and words that recur by the thousand are kept as numbers from here on: a term stands for its text wherever it is
-- read, and terms are in the order of their texts.
create temp type term as enum (
    select unnest([athlete_id, sport, sex]) from athlete
    union select unnest([stay_id, camp_id, athlete_id]) from stay
    union select unnest([measure, family, unit, kind, better]) from measure
    union select unnest([measure, line, conditions]) from look_line
    union select unnest([measure, unit]) from look_unit
    union select unnest([unit, other_unit]) from multiplier
    union select sport from band
    union select athlete_id from look_athlete
    union select athlete_id from slot_answer
    union select unnest([import_id, athlete_id]) from assignment
    union select import_id from row_decision
    union select import_id from staged_file
    order by 1
);
alter table staged_file alter import_id type term;
alter table row_decision alter import_id type term;
alter table assignment alter import_id type term;
alter table assignment alter athlete_id type term;
alter table slot_answer alter import_id type term;
alter table slot_answer alter athlete_id type term;
alter table look_athlete alter athlete_id type term;
alter table look_date alter import_id type term;
alter table look_measure alter measure type term;
alter table look_number alter measure type term;
alter table look_reps alter measure type term;
alter table look_unit alter measure type term;
alter table look_unit alter unit type term;
alter table look_line alter measure type term;
alter table look_line alter line type term;
alter table look_line alter conditions type term;
alter table multiplier alter measure type term;
alter table multiplier alter unit type term;
alter table band alter measure type term;
alter table band alter sport type term;

create temp table known_measure as
select measure::term as measure, hard_low, hard_high, family::term as family, kind::term as kind, trials,
    better::term as better, typical_error, resolution, unit::term as canonical_unit
from measure;
create temp table known_athlete as
select athlete_id::term as athlete_id, birth_date, sport::term as sport, sex::term as sex from athlete;
-- A stay counts from three days before arrival until the next one opens.
create temp table opening as
select
    athlete_id::term as athlete_id, stay_id::term as stay_id, camp_id::term as camp_id, time_zone, arrived_on, left_on,
    opens_on, lead(opens_on) over (partition by athlete_id order by opens_on, stay_id) as closes_on
from (select *, arrived_on - 3 as opens_on from stay) left join camp using (camp_id);
