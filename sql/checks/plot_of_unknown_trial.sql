-- severity: sets the row aside
-- says: every plot's trial must be listed in trials
-- may follow from an unread file: of its folder
-- needs: staging.plots, staging.trials
select p.file, p.sheet, p.row_number, 'plots' as table_name, 'trial_id' as column_name, p.trial_id, null as site_id,
  p.trial_id as found, 'a trial_id of the trials table' as expected, 'add the trial to trials, or correct the id' as mend
from staging.plots as p
where p.trial_id is not null and p.trial_id not in (select trial_id from staging.trials where trial_id is not null)
