-- severity: sets the row aside
-- says: every irrigation's trial must be listed in trials
-- may follow from an unread file: of its folder
-- needs: staging.irrigations, staging.trials
-- rows of: staging.irrigations
select i.file, i.sheet, i.row_number, 'irrigations' as table_name, 'trial_id' as column_name, i.trial_id, null as site_id,
  i.trial_id as found, 'a trial_id of the trials table' as expected, 'add the trial to trials, or correct the id' as mend
from staging.irrigations as i
where i.trial_id is not null and i.trial_id not in (select trial_id from staging.trials where trial_id is not null)
