-- needs: trials.row_fates, trials.trials
-- One row per trial and table: its delivered rows and what became of them.
create table trials.trial_counts as
select
  f.trial_id, f.table_name, count(*) as delivered,
  count(*) filter (where f.fate = 'used') as used,
  count(*) filter (where f.fate = 'set aside') as set_aside,
  count(*) filter (where f.fate = 'held') as held,
  count(*) filter (where f.fate = 'superseded') as superseded
from trials.row_fates as f inner join trials.trials as t on t.trial_id = f.trial_id
group by f.trial_id, f.table_name
order by f.trial_id, f.table_name;
comment on table trials.trial_counts is 'One row per trial and table; used + set_aside + held + superseded = delivered';
