-- severity: holds the trial
-- says: a zero-N treatment has no N rate
-- needs: staging.treatments, reference.program
-- rows of: staging.treatments
-- only where: t.is_zero_n and t.n_rate_kg_ha > 0
select file, sheet, row_number, 'treatments' as table_name, 'is_zero_n' as column_name, trial_id, null as site_id,
  'zero-N at ' || units.said_n_rate(n_rate_kg_ha, d.display_units) || ' (' || treatment_code || ')' as found, 'zero-N at rate 0' as expected,
  'correct is_zero_n or the N rate; an empty is_zero_n goes by the rate' as mend
from staging.treatments cross join reference.program as d
where is_zero_n and n_rate_kg_ha > 0
