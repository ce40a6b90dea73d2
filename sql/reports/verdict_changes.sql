-- needs: estimates.run_verdicts, estimates.runs
-- One row per claim and test of as good whose verdict the newest run changed.
create view reports.verdict_changes as
with newest_first as (
  select run_id, row_number() over (order by rowid desc) as place from estimates.runs
)
select now.run_id, now.kind, now.what, now.target, before.verdict as before, now.verdict as after
from estimates.run_verdicts as now
inner join estimates.run_verdicts as before using (kind, what, target)
inner join newest_first as newest on newest.run_id = now.run_id and newest.place = 1
inner join newest_first as last on last.run_id = before.run_id and last.place = 2
where before.verdict <> now.verdict
order by now.kind desc, now.what, now.target;
comment on view reports.verdict_changes is 'One row per verdict that the newest run changed';
