-- severity: holds the trial
-- says: every treatment of a trial states its nitrogen, or none does
-- needs: staging.treatments
-- rows of: staging.treatments
-- only where: coalesce(t.n_source, cast(t.n_rate_kg_ha as varchar), t.timing, cast(t.passes as varchar)) is null
with told as (
  select *, coalesce(n_source, cast(n_rate_kg_ha as varchar), timing, cast(passes as varchar)) is not null as tells_n
  from staging.treatments where trial_id is not null and treatment_code is not null
),
mixed as (select trial_id from told group by trial_id having bool_or(tells_n) and not bool_and(tells_n))
select file, sheet, row_number, 'treatments' as table_name, 'n_source' as column_name, trial_id, null as site_id,
  'no nitrogen stated for ' || treatment_code as found, 'the nitrogen of every treatment of the trial, or of none' as expected,
  'fill in n_source, n_rate, timing and passes (none, 0, none, 0 for no treatment N); leave them empty throughout only if the trial is not about nitrogen' as mend
from told inner join mixed using (trial_id)
where not tells_n
