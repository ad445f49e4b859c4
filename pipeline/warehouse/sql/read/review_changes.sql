select stay_id, measure, line, change, weeks, verdict from trend where camp_id = $camp order by measure, line, stay_id;
