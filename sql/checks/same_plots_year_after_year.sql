-- severity: noted
-- says: a trial on the plots of an earlier one may carry effects over
-- needs: staging.trials
select file, sheet, row_number, 'trials' as table_name, 'same_plots_as' as column_name, trial_id, site_id,
  'the plots of ' || same_plots_as as found, 'fresh plots' as expected,
  'kept as a site-year of its own; its treatments may carry over from the earlier season, so read its gain with that in mind' as mend
from staging.trials where same_plots_as is not null
