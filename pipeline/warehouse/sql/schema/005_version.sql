-- Which schema this file was made with; checked whenever it is opened.
create table warehouse_version (
    version integer not null,         -- raised when an older Latewood could no longer read the tables
    schema_digest varchar not null    -- hash of the statements that made the tables
);
