-- severity: holds the trial
-- says: yield-monitor points are not plots
-- needs: staging.plots
-- rows of: staging.plots
-- only where: t.weighing = 'yield monitor'
select file, sheet, min(row_number) as row_number, 'plots' as table_name, 'weighing' as column_name, trial_id, null as site_id,
  'yield monitor (' || count(*) || ' rows)' as found, 'weighed plots, or one mean per strip with design strips' as expected,
  'average the points of each strip to one row, weighing combine scale, design strips; points within a strip are not replicates' as mend
from staging.plots where weighing = 'yield monitor' group by file, sheet, trial_id
