-- severity: noted
-- says: applications are delivered for every trial, so that planned rates can be checked
-- may follow from an unread file: of its folder
-- needs: staging.trials, staging.nitrogen_applications, staging.treatments
select t.file, t.sheet, t.row_number, 'trials' as table_name, 'trial_id' as column_name, t.trial_id, t.site_id,
  'no application of ' || t.trial_id as found, 'its rows in nitrogen_applications' as expected,
  'deliver the applications; until then the planned rates are taken on trust' as mend
from staging.trials as t
where t.outcome = 'harvested' and t.trial_id is not null
  and t.trial_id not in (select trial_id from staging.nitrogen_applications where trial_id is not null)
  -- a trial that is not about nitrogen plans no rates
  and t.trial_id not in (select trial_id from staging.treatments where trial_id is not null group by trial_id having count(n_rate_kg_ha) = 0)
