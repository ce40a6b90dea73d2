-- needs: staging.nitrogen_applications, trials.row_fates, trials.trials
-- One row per application of treatment N that counts, with its day where that is known.
create table trials.nitrogen_given as
select
  a.trial_id, a.treatment_code,
  coalesce(a.applied_on, case when regexp_matches(a.application, '^(19|20|21)\d{2}-\d{2}-\d{2}') then try_cast(left(a.application, 10) as date) end) as applied_on,
  a.product, a.n_rate_kg_ha
from staging.nitrogen_applications as a
inner join trials.row_fates as f
  on f.file = a.file and f.sheet is not distinct from a.sheet and f.row_number = a.row_number and f.table_name = 'nitrogen_applications'
inner join trials.trials as t on t.trial_id = a.trial_id
where f.fate in ('used', 'held') and a.counts_toward = 'treatment'
order by a.trial_id, a.treatment_code, applied_on, a.product, a.n_rate_kg_ha;
comment on table trials.nitrogen_given is 'One row per application of treatment N: day, product and rate';
