-- needs: trials.findings, checks.deciding, trials.trials, staging.repeats, staging.rows_left_out, staging.sites, staging.trials, staging.treatments, staging.nitrogen_applications, staging.plots, staging.weather_daily, staging.rain_history
-- One row per delivered row: used, set aside with its reason, or held with its trial.
create table trials.row_fates as
with delivered as (
  select
    file, sheet, row_number, 'sites' as table_name, null as trial_id,
    case when delivered is distinct from first_value(delivered) over latest then 'described anew in ' || first_value(file) over latest end as lost
  from staging.sites
  window latest as (partition by site_id order by file desc, row_number)
  union all
  select file, sheet, row_number, 'trials', trial_id, null from staging.trials
  union all
  select file, sheet, row_number, 'treatments', trial_id, null from staging.treatments
  union all
  select file, sheet, row_number, 'nitrogen_applications', trial_id, null from staging.nitrogen_applications
  union all
  select
    file, sheet, row_number, 'plots', trial_id,
    case when became <> 'harvested' and not coalesce(caused_by_treatment, false) then became || ': ' || coalesce(cause, 'no cause given') end
  from staging.plots
  union all
  select file, sheet, row_number, 'weather_daily', null, null from staging.weather_daily
  union all
  select file, sheet, row_number, 'rain_history', null, null from staging.rain_history
  union all
  select file, sheet, row_number, table_name, null, null from staging.rows_left_out
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
)
select
  d.file, d.sheet, d.row_number, d.table_name, d.trial_id,
  case
    when a.reason is not null or r.reason is not null then 'set aside'
    when t.status = 'held' then 'held'
    when d.lost is not null then 'set aside'
    when t.status = 'not harvested' and d.table_name = 'plots' then 'set aside'
    else 'used'
  end as fate,
  case
    when a.reason is not null then a.reason
    when r.reason is not null then r.reason
    when t.status = 'held' then 'trial held: ' || t.status_reason
    when d.lost is not null then d.lost
    when t.status = 'not harvested' and d.table_name = 'plots' then 'trial ' || t.status_reason
  end as reason
from delivered as d
left join aside as a
  on a.file = d.file and a.sheet is not distinct from d.sheet and a.row_number = d.row_number and a.table_name = d.table_name
left join repeated as r
  on r.file = d.file and r.sheet is not distinct from d.sheet and r.row_number = d.row_number and r.table_name = d.table_name
left join trials.trials as t on t.trial_id = d.trial_id
order by d.file, d.sheet, d.row_number;
comment on table trials.row_fates is 'One row per delivered row: used, set aside or held, and why';
