-- severity: noted
-- says: a planned or planted trial says when its harvest sheet is due
-- needs: staging.trials
select file, sheet, row_number, 'trials' as table_name, 'became' as column_name, trial_id, site_id,
  became || coalesce(', due ' || due, ', no due date') as found, 'its harvest, or what became of it' as expected,
  'deliver its harvest sheet, or say that it was lost and why: a trial that never reports is counted as planned and not reported' as mend
from staging.trials where became in ('planned', 'planted')
