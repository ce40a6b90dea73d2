-- needs: staging.printed_means, trials.trials, reference.crops
-- One row per treatment of an accepted trial known by print: its mean, or its difference from compared_with, and the error in kg/ha (a CV stays in %, a p stays a p).
create table trials.printed_means as
with converted as (
  select
    p.*, t.crop, t.site_year_id,
    units.kg_ha_per_bu_ac(c.bushel_lb) as from_bushels,
    case when nullif(trim(coalesce(nullif(trim(p.delivered.mean_yield_lb_ac::varchar), ''), p.delivered.difference_lb_ac::varchar)), '') is not null then units.kg_ha_per_lb_ac()
      when nullif(trim(coalesce(nullif(trim(p.delivered.mean_yield_t_ha::varchar), ''), p.delivered.difference_t_ha::varchar)), '') is not null then 1000
      when coalesce(p.mean_yield_kg_ha, p.difference_kg_ha) is not null then 1
      else from_bushels end as unit_kg_ha
  from staging.printed_means as p
  inner join trials.trials as t on t.trial_id = p.trial_id and t.status = 'accepted'
  inner join reference.crops as c on c.word = t.crop
)
select
  trial_id, site_year_id, crop, treatment_code,
  coalesce(mean_yield_kg_ha, mean_yield_bu_ac * from_bushels) as mean_kg_ha,
  compared_with, coalesce(difference_kg_ha, difference_bu_ac * from_bushels) as difference_kg_ha, n_blocks, error_kind,
  error_value * case error_kind when 'MSE' then unit_kg_ha * unit_kg_ha when 'CV' then 1 when 'p' then 1 else unit_kg_ha end as error_value,
  error_alpha, error_df, citation, file, sheet, row_number
from converted
qualify row_number() over (partition by trial_id, treatment_code order by file, row_number) = 1
order by trial_id, treatment_code;
comment on table trials.printed_means is 'One row per treatment of a trial known by print (kg/ha)';
