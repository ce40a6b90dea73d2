-- severity: holds the trial
-- says: harvested width agrees with rows harvested times row spacing, within 3%
-- needs: staging.plots, staging.trials, reference.program
with compared as (
  select p.*, p.rows_harvested * t.row_spacing_cm / 100 as width_from_rows_m
  from staging.plots as p inner join staging.trials as t on t.trial_id = p.trial_id
)
select file, sheet, row_number, 'plots' as table_name, 'harvest_width' as column_name, trial_id, null as site_id,
  units.said_width(harvest_width_m, d.display_units) || ' wide' as found,
  units.said_width(width_from_rows_m, d.display_units) || ' from ' || rows_harvested || ' rows and the row spacing' as expected,
  'correct the width, the rows or the row spacing: the yield is off by their ratio' as mend
from compared cross join reference.program as d
where abs(harvest_width_m - width_from_rows_m) > 0.03 * width_from_rows_m
