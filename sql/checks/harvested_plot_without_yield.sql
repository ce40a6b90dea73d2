-- severity: sets the row aside
-- says: a plot that counts (harvested, or lost to its treatment) has a weight with what turns it into a yield, or a yield
-- needs: trials.plots_without_yield
select file, sheet, row_number, 'plots' as table_name, missing[1] as column_name, trial_id, null as site_id,
  'no ' || array_to_string(missing, ', no ') as found, 'what a yield is computed from' as expected,
  case when became = 'harvested' then 'fill it in, or say what became of the plot'
    else 'fill it in; a weight of 0 if the treatment left nothing to harvest' end as mend
from trials.plots_without_yield
