-- How past projections of each measure did, over all horizons.
select measure, n_scored, inside_95 from projection_score where horizon = 'all';
