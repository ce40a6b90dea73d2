-- severity: noted
-- says: background N is the same on all plots of a trial
-- needs: staging.nitrogen_applications
-- rows of: staging.nitrogen_applications
-- only where: t.counts_toward = 'background' and upper(t.treatment_code) <> 'ALL'
select file, sheet, row_number, 'nitrogen_applications' as table_name, 'counts_toward' as column_name, trial_id, null as site_id,
  'background N on ' || treatment_code || ' alone' as found, 'treatment_code ALL' as expected,
  'if only some treatments had it, it is treatment N; else write ALL' as mend
from staging.nitrogen_applications
where counts_toward = 'background' and upper(treatment_code) <> 'ALL'
