-- Results about strength, one table a class of pipeline/stats/links/results.py, column for column.

-- Change of an output per kg of the athlete's own added strength, at equal time in the program.
create table strength_link (
    measure varchar not null,
    line varchar not null,
    strength_measure varchar not null,
    strength_line varchar not null,
    adjustment varchar not null,      -- "time" | "time and mass"
    per_kg double,
    standard_error double,
    low double,
    high double,
    between_per_kg double,            -- across athletes; a different question
    n_athletes bigint not null,
    n_sessions bigint not null,
    n_tests bigint not null,          -- of strength, behind the fitted trends
    reliability double,               -- share of the differences between fitted gains that is not test error
    inflation double,                 -- variance inflation of own strength on time (and mass) within athletes
    time_form varchar not null,
    strength_form varchar not null,
    verdict varchar not null,         -- estimated | not told from zero | refused
    reason varchar not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
-- What goes with one usual gain of mass and one of strength, both in one model, and which is more.
create table mass_or_strength (
    measure varchar not null,
    line varchar not null,
    mass_gain_sd double,              -- kg, between athletes at equal time
    strength_gain_sd double,          -- kg
    mass_share double,                -- change of the output that goes with one SD of mass gained
    mass_low double,
    mass_high double,
    strength_share double,
    strength_low double,
    strength_high double,
    difference double,                -- size of the mass share less size of the strength share
    difference_low double,
    difference_high double,
    n_athletes bigint not null,
    n_sessions bigint not null,
    verdict varchar not null,         -- mass | strength | cannot be told | refused
    reason varchar not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
-- Strength for body size at both ends of a stay, by the athlete's own line through their tests.
create table relative_strength (
    athlete_id varchar not null,
    stay_id varchar not null,
    measure varchar not null,
    line varchar not null,
    first_on date,
    last_on date,
    n_tests bigint not null,
    start_strength double,            -- kg
    end_strength double,
    start_mass double,                -- kg
    end_mass double,
    start_relative double,            -- kg per kg to the power of "exponent"
    end_relative double,
    change_percent double,            -- of relative strength over the stay
    low double,
    high double,
    exponent double not null,
    verdict varchar not null,         -- shown | refused
    reason varchar not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
