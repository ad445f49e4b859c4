select measure, label, family, better, kind, unit, source from measure order by position
