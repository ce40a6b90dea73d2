-- severity: sets the row aside
-- says: every treatment's trial must be listed in trials
-- may follow from an unread file: of its folder
-- needs: staging.treatments, staging.trials
select t.file, t.sheet, t.row_number, 'treatments' as table_name, 'trial_id' as column_name, t.trial_id, null as site_id,
  t.trial_id as found, 'a trial_id of the trials table' as expected, 'add the trial to trials, or correct the id' as mend
from staging.treatments as t
where t.trial_id is not null and t.trial_id not in (select trial_id from staging.trials where trial_id is not null)
