-- What a build could not compute; as in pipeline/stats/change/results.py.

-- One estimate left out, with its reason; all others are published.
create table not_computed (
    step varchar not null,            -- what was asked, in words
    measure varchar not null,         -- empty where it is about all measures or about body mass
    reason varchar not null,
    build_id varchar not null
);
