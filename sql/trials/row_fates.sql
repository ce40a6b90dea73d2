-- needs: trials.findings, checks.deciding, trials.trials, staging.repeats, staging.rows_left_out, staging.superseded, staging.all_rows, staging.sites, staging.plots, staging.harvests, staging.measurements
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
),
fates as (
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
),
-- a pick or a reading counts with its plot
of_plots as (
  select file, sheet, row_number, 'harvests' as table_name, trial_id, plot from staging.harvests
  union all
  select file, sheet, row_number, 'measurements', trial_id, plot from staging.measurements
),
plots_aside as (
  select p.trial_id, p.plot, min(f.reason) as reason
  from staging.plots as p
  inner join fates as f
    on f.file = p.file and f.sheet is not distinct from p.sheet and f.row_number = p.row_number and f.table_name = 'plots'
  where p.trial_id in (select o.trial_id from of_plots as o)
  group by p.trial_id, p.plot having bool_and(f.fate = 'set aside')
),
with_its_plot as (
  select o.file, o.sheet, o.row_number, o.table_name, min('plot ' || a.plot || ' is set aside: ' || a.reason) as reason
  from of_plots as o inner join plots_aside as a on a.trial_id = o.trial_id and a.plot = o.plot
  group by o.file, o.sheet, o.row_number, o.table_name
)
select
  f.file, f.sheet, f.row_number, f.table_name, f.trial_id,
  if(f.fate = 'used' and w.file is not null, 'set aside', f.fate) as fate, if(f.fate = 'used', w.reason, f.reason) as reason
from fates as f
left join with_its_plot as w
  on w.file = f.file and w.sheet is not distinct from f.sheet and w.row_number = f.row_number and w.table_name = f.table_name
union all
select file, sheet, row_number, table_name, trial_id, 'superseded', reason from staging.superseded;
comment on table trials.row_fates is 'One row per delivered row: used, set aside, held or superseded, and why';
