-- severity: holds the trial
-- says: every plot's treatment code must be listed in its trial's treatments
-- needs: staging.plots, staging.treatments, staging.trials
select p.file, p.sheet, p.row_number, 'plots' as table_name, 'treatment_code' as column_name, p.trial_id, null as site_id,
  p.treatment_code as found, 'a code of this trial in the treatments table' as expected,
  'add the treatment, or correct the code' as mend
from staging.plots as p
inner join staging.trials as r on r.trial_id = p.trial_id
left join staging.treatments as t on t.trial_id = p.trial_id and t.treatment_code = p.treatment_code
where p.treatment_code is not null and t.treatment_code is null
