-- Values with a clear mend leave the evidence before the rest is judged again.
create temp table first_mend as
select m.seq, m.rule, m.proposed, m.other_unit, coalesce(s.own, case when s.slips then s.only_other end) as own, s.session_middle
from mend m join suspect s using (seq);
delete from checked where seq in (select seq from first_mend);
