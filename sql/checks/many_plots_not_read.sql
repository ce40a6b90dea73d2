-- severity: holds the trial
-- says: no more than a quarter of a trial's delivered plots is set aside because its cells cannot be read
-- needs: trials.findings, checks.setting_aside, staging.plots, staging.trials, staging.repeats
with unread as (
  select distinct f.file, f.sheet, f.row_number
  from trials.findings as f
  where f.table_name = 'plots' and f.severity = 'sets the row aside' and f.row_number is not null
    and f.check_name <> 'harvested plot without yield'
),
plots as (
  select p.trial_id, count(*) as n_plots, count(u.file) as n_unread,
    arg_min(p.file, (p.file, p.row_number)) filter (u.file is not null) as file,
    arg_min(p.sheet, (p.file, p.row_number)) filter (u.file is not null) as sheet,
    arg_min(p.row_number, (p.file, p.row_number)) filter (u.file is not null) as row_number
  from staging.plots as p
  anti join staging.repeats as r on r.file = p.file and r.sheet is not distinct from p.sheet and r.row_number = p.row_number and r.table_name = 'plots'
  left join unread as u on u.file = p.file and u.sheet is not distinct from p.sheet and u.row_number = p.row_number
  where p.trial_id in (select trial_id from staging.trials)
  group by p.trial_id
)
select file, sheet, row_number, 'plots' as table_name, null as column_name, trial_id, null as site_id,
  n_unread || ' of ' || n_plots || ' plots are set aside because their cells cannot be read' as found,
  'a quarter at most' as expected, 'correct what is found in their rows, of which this is the first' as mend
from plots where n_unread * 4 > n_plots
