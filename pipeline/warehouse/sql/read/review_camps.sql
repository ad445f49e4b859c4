select camp_id, label, starts_on, ends_on from camp order by starts_on, camp_id;
