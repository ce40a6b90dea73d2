-- severity: holds the trial
-- says: a printed mean or difference belongs to treatments of its trial
-- may follow from an unread file: of its folder
-- needs: staging.printed_means, staging.treatments
-- rows of: staging.printed_means
with named as (
  select file, sheet, row_number, trial_id, 'treatment_code' as column_name, treatment_code from staging.printed_means
  union all
  select file, sheet, row_number, trial_id, 'compared_with', compared_with from staging.printed_means
)
select n.file, n.sheet, n.row_number, 'printed_means' as table_name, n.column_name, n.trial_id, null as site_id,
  n.trial_id || ' ' || n.treatment_code as found, 'a trial and code of the treatments table' as expected, 'add the treatment, or correct the code' as mend
from named as n left join staging.treatments as t on t.trial_id = n.trial_id and t.treatment_code = n.treatment_code
where n.trial_id is not null and n.treatment_code is not null and t.trial_id is null
