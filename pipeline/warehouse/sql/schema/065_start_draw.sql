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
