-- severity: holds the trial
-- says: a printed mean belongs to a treatment of its trial
-- needs: staging.printed_means, staging.treatments
select p.file, p.sheet, p.row_number, 'printed_means' as table_name, 'treatment_code' as column_name, p.trial_id, null as site_id,
  coalesce(p.trial_id, '') || ' ' || coalesce(p.treatment_code, '') as found, 'a trial and code of the treatments table' as expected, 'add the treatment, or correct the code' as mend
from staging.printed_means as p left join staging.treatments as t on t.trial_id = p.trial_id and t.treatment_code = p.treatment_code
where p.trial_id is not null and p.treatment_code is not null and t.trial_id is null
