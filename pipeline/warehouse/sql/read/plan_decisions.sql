select * from plan_decision order by decided_at, event_id
