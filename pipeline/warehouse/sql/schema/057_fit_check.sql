-- How far one kind of published fit is from the same fit by an independent program.
create table fit_check (
    kind varchar not null,            -- trend | mass link
    n_fits bigint not null,
    largest_difference double,        -- in standard errors of the published number
    largest_of varchar not null,      -- which fit it is
    allowed double not null,          -- a larger difference fails the build
    method varchar not null,
    build_id varchar not null
);
