-- Values with a clear mend leave the evidence before the rest is judged again.
create temp table first_mend as
select m.seq, m.rule, m.proposed, m.other_unit, s.own, s.session_middle
from mend m join suspect s using (seq);
delete from checked where seq in (select seq from first_mend);
