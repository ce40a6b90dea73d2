-- severity: noted
-- says: a trial that was lost names its cause
-- needs: staging.trials
-- rows of: staging.trials
-- only where: t.became = 'lost' and t.became_why is null
select file, sheet, row_number, 'trials' as table_name, 'became_why' as column_name, trial_id, site_id,
  became || ' without a cause' as found, 'the cause in the field' as expected, 'say what happened; a trial may not be left out for its yields' as mend
from staging.trials
where became = 'lost' and became_why is null
