-- The days on which a camp plans to test, as its camps file states them; a camp without any has no rows.
create table test_day (
    camp_id varchar not null,
    on_date date not null,
    primary key (camp_id, on_date)
);
