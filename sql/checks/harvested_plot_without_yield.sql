-- severity: sets the row aside
-- says: a plot that counts (harvested, or lost to its treatment) has a weight with what turns it into a yield, or a yield
-- may follow from an unread file: of its folder
-- needs: trials.plots_without_yield, trials.findings, checks.plots.harvest_weight is not a number like 12.5, checks.plots.moisture is not a number like 12.5, checks.plots.gin_turnout is not a number like 12.5, checks.plots.harvest_length is not a number like 12.5, checks.plots.harvest_width is not a number like 12.5, checks.plots.rows_harvested is not a number like 12.5
-- rows of: trials.plots_without_yield
-- A cell that holds something else than a number has its finding already, which sets the row aside or holds the trial.
with lacking as (
  select file, sheet, row_number, trial_id, outcome, unnest(missing) as what, generate_subscripts(missing, 1) as position
  from trials.plots_without_yield
),
empty as (
  select l.* from lacking as l
  anti join trials.findings as f
    on f.file = l.file and f.sheet is not distinct from l.sheet and f.row_number = l.row_number
    and f.check_name = 'plots.' || regexp_replace(split_part(l.what, ' ', 1), '_pct$', '') || ' is not a number like 12.5'
)
select file, sheet, row_number, 'plots' as table_name, arg_min(what, position) as column_name, trial_id, null as site_id,
  'no ' || string_agg(what, ', no ' order by position) as found, case count(*) when 1 then 'a number' else 'a number in each' end as expected,
  case when outcome = 'harvested' then 'fill it in, or say what became of the plot'
    else 'fill it in; a weight of 0 if the treatment left nothing to harvest' end as mend
from empty
group by file, sheet, row_number, trial_id, outcome
