-- severity: holds the trial
-- says: a zero-N treatment has no N rate
-- needs: staging.treatments
select file, sheet, row_number, 'treatments' as table_name, 'is_zero_n' as column_name, trial_id, null as site_id,
  treatment_code || ' is a zero-N at ' || round(n_rate_kg_ha, 1) || ' kg/ha N' as found, 'a zero-N at rate 0' as expected,
  'correct is_zero_n or the N rate; an empty is_zero_n goes by the rate' as mend
from staging.treatments
where is_zero_n and n_rate_kg_ha > 0
