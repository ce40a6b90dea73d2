-- severity: sets the row aside
-- says: an application belongs to a treatment of its trial, or to ALL
-- may follow from an unread file: of its folder
-- needs: staging.nitrogen_applications, staging.treatments
select a.file, a.sheet, a.row_number, 'nitrogen_applications' as table_name, 'treatment_code' as column_name, a.trial_id, null as site_id,
  coalesce(a.trial_id, '') || ' ' || coalesce(a.treatment_code, '') as found, 'a trial and code of the treatments table, or ALL' as expected,
  'correct the trial or the code' as mend
from staging.nitrogen_applications as a
left join staging.treatments as t on t.trial_id = a.trial_id and (t.treatment_code = a.treatment_code or upper(a.treatment_code) = 'ALL')
where a.trial_id is not null and a.treatment_code is not null and t.trial_id is null
