-- severity: noted
-- says: a plot that was not harvested names its cause in the field
-- needs: staging.plots
-- rows of: staging.plots
-- only where: t.outcome <> 'harvested' and t.cause is null
select file, sheet, row_number, 'plots' as table_name, 'cause' as column_name, trial_id, null as site_id,
  outcome || ' without a cause' as found, 'a cause in the field' as expected, 'say what happened; a plot may not be left out for its yield' as mend
from staging.plots
where outcome <> 'harvested' and cause is null
