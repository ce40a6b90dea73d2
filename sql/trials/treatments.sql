-- needs: staging.treatments, trials.trials
-- One row per treatment of an accepted or planned trial.
create table trials.treatments as
select
  t.trial_id, t.treatment_code, t.n_source,
  case when t.n_source = 'coated urea' then coalesce(t.coated_n_fraction, 1) else coalesce(t.coated_n_fraction, 0) end as coated_n_fraction,
  t.n_rate_kg_ha, t.timing, t.passes, t.placement, t.additive,
  coalesce(t.is_zero_n, t.n_rate_kg_ha = 0, false) as is_zero_n, coalesce(t.is_grower_standard, false) as is_grower_standard,
  t.factor_columns as factors
from staging.treatments as t
inner join trials.trials as r on r.trial_id = t.trial_id and r.status in ('accepted', 'planned')
where t.treatment_code is not null
qualify row_number() over (partition by t.trial_id, t.treatment_code order by t.file, t.row_number) = 1
order by t.trial_id, t.treatment_code;
comment on table trials.treatments is 'One row per treatment of an accepted or planned trial';
