-- needs: trials.findings, checks.deciding, trials.trials, staging.repeats, staging.rows_left_out, staging.superseded, staging.all_rows, staging.sites, staging.plots
-- One row per delivered row: used, set aside with its reason, held with its trial, or superseded by what came later of its trial.
create table trials.row_fates as
with described_anew as (
  select file, sheet, row_number, 'described anew in ' || first_value(file) over latest as reason,
    delivered is distinct from first_value(delivered) over latest
      -- the row whose drainage class holds counts too, where a later one has none
      and (drainage_class is null or first_value(row_number) over drained <> row_number or first_value(file) over drained <> file) as is_anew
  from staging.sites
  window latest as (partition by site_id order by file desc, row_number),
    drained as (partition by site_id order by drainage_class is null, file desc, row_number)
),
lost_plots as (
  select file, sheet, row_number, outcome || ': ' || coalesce(cause, 'no cause given') as reason
  from staging.plots
  where outcome <> 'harvested' and not coalesce(caused_by_treatment, false)
),
-- these two name rows of one table each
lost as (
  select file, sheet, row_number, 'sites' as table_name, reason from described_anew where is_anew
  union all
  select file, sheet, row_number, 'plots', reason from lost_plots
),
delivered as (
  select file, sheet, row_number, table_name, trial_id from staging.all_rows
  union all
  select file, sheet, row_number, table_name, null from staging.rows_left_out
),
-- a holding finding on a row that names no trial can only set that row aside
aside as (
  select file, sheet, row_number, table_name, min(check_name || ': ' || coalesce(found, '')) as reason
  from trials.findings
  where row_number is not null
    and (severity = 'sets the row aside' or (severity = 'holds the trial' and trial_id is null))
  group by file, sheet, row_number, table_name
),
repeated as (
  select file, sheet, row_number, table_name, min(reason) as reason
  from staging.repeats group by file, sheet, row_number, table_name
),
told as (
  select
    d.file, d.sheet, d.row_number, d.table_name, d.trial_id, t.status, t.status_reason,
    coalesce(a.reason, r.reason) as aside_reason, l.reason as lost_reason
  from delivered as d
  left join aside as a
    on a.file = d.file and a.sheet is not distinct from d.sheet and a.row_number = d.row_number and a.table_name = d.table_name
  left join repeated as r
    on r.file = d.file and r.sheet is not distinct from d.sheet and r.row_number = d.row_number and r.table_name = d.table_name
  left join lost as l
    on l.file = d.file and l.sheet is not distinct from d.sheet and l.row_number = d.row_number and l.table_name = d.table_name
  left join trials.trials as t on t.trial_id = d.trial_id
)
select
  file, sheet, row_number, table_name, trial_id,
  case
    when aside_reason is not null then 'set aside'
    when status = 'held' then 'held'
    when lost_reason is not null then 'set aside'
    when status = 'not harvested' and table_name = 'plots' then 'set aside'
    else 'used'
  end as fate,
  case
    when aside_reason is not null then aside_reason
    when status = 'held' then 'trial held: ' || status_reason
    when lost_reason is not null then lost_reason
    when status = 'not harvested' and table_name = 'plots' then 'trial ' || status_reason
  end as reason
from told
union all
select file, sheet, row_number, table_name, trial_id, 'superseded', reason from staging.superseded;
comment on table trials.row_fates is 'One row per delivered row: used, set aside, held or superseded, and why';
