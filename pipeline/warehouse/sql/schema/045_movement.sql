-- What each channel of an imported trace showed: its peak, or the reason why there is none. Values that were taken
-- stand in `reading`; the raw trace stays in landing.
create table trace_channel (
    import_id varchar not null,
    row_no integer not null,          -- line on which the channel's trial begins
    field varchar not null,           -- column, or the word for the channel in a long file
    athlete_id varchar,
    measured_on date,
    trial integer,
    trial_text varchar not null,      -- as the file writes it
    measure varchar not null,         -- the segment's peak speed
    state varchar not null,           -- 'measured' or 'missing'
    speed double,                     -- deg/s, sign as worn
    ms_from_event double,             -- null without an event
    speed_error double,               -- SD that the channel's noise leaves, deg/s
    ms_error double,
    opposite double,                  -- largest speed the other way, deg/s
    noise double,                     -- SD of raw samples about the filtered curve, deg/s
    n_lost integer not null,          -- samples missing, held or zero amid movement
    rate_hz double,
    cutoff_hz double not null,        -- low-pass, forward and back
    cutoff_source varchar not null,
    reason varchar not null,
    remarks varchar not null
);
