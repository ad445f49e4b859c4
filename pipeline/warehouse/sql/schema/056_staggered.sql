-- Drawn starts of weight plans, and what they tell; the second as in pipeline/stats/links/results.py.

-- On which day each athlete of a camp was to begin their plan, as a draw decided; a row per place in the draw.
create table start_draw (
    camp_id varchar not null,
    place integer not null,           -- in the order of body mass on the day of the draw, the heaviest first
    athlete_id varchar,               -- null where they were erased: the others keep their places
    start_on date not null,
    seed bigint not null,             -- with the place it decides the start: see pipeline/stats/links/start_draw.py
    drawn_at timestamptz not null,
    drawn_by varchar not null,
    primary key (camp_id, place)
);
-- Output per kg of body mass at equal time, from plans of one camp that began on days drawn for their groups.
create table staggered_link (
    camp_id varchar not null,
    measure varchar not null,
    line varchar not null,
    per_kg double,
    low double,
    high double,
    standard_error double,
    chance double,                    -- p of no effect of the starts on output
    kg_per_week double,               -- what a week on plan by assignment added
    chance_mass double,               -- p of no effect of the starts on mass
    n_athletes bigint not null,
    n_sessions bigint not null,
    n_groups bigint not null,         -- starts that were drawn
    smallest_group bigint not null,   -- athletes with two tests and a body mass
    n_as_drawn bigint not null,       -- first plan within a week of the day that was drawn
    verdict varchar not null,         -- estimated | not told from zero | refused
    reason varchar not null,
    level double not null,
    method varchar not null,
    build_id varchar not null
);
