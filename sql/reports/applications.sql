-- needs: staging.nitrogen_applications, trials.row_fates, trials.trials
-- One row per nitrogen application that counts: when, what and how, of one treatment or (treatment_code ALL) of a whole trial.
create view reports.applications as
select
  a.trial_id, t.site_year_id, t.crop, a.treatment_code, coalesce(a.applied_on, case when regexp_matches(a.application, '^(19|20|21)\d{2}-\d{2}-\d{2}') then try_cast(left(a.application, 10) as date) end) as applied_on,
  a.application, a.product,
  a.n_rate_kg_ha, units.lb_ac(a.n_rate_kg_ha) as n_rate_lb_ac, a.placement, a.counts_toward, a.file, a.sheet, a.row_number
from staging.nitrogen_applications as a
inner join trials.row_fates as f
  on f.file = a.file and f.sheet is not distinct from a.sheet and f.row_number = a.row_number and f.table_name = 'nitrogen_applications'
inner join trials.trials as t on t.trial_id = a.trial_id
where f.fate in ('used', 'held')
order by a.trial_id, a.treatment_code, a.application, a.product, a.row_number;
comment on view reports.applications is 'One row per nitrogen application of a trial';
