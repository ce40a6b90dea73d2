-- needs: staging.plots, trials.picked_plots, trials.row_fates, trials.trials, reference.crops
-- One row per delivered plot of a known trial, its yield at standard moisture (or lint) in kg/ha, and its fate.
create table trials.plots as
with measured as (
  select
    p.* exclude (harvest_weight_kg, gin_turnout_fraction),
    coalesce(p.harvest_weight_kg, k.harvest_weight_kg) as harvest_weight_kg,
    coalesce(k.gin_turnout_fraction, p.gin_turnout_fraction) as gin_turnout_fraction,
    k.n_picks, t.crop, t.site_year_id, t.season, c.product, c.standard_moisture_pct, c.bushel_lb, c.kg_ha_per_display_unit,
    f.fate, f.reason,
    p.harvest_length_m * coalesce(p.harvest_width_m, p.rows_harvested * t.row_spacing_cm / 100) as area_m2
  from staging.plots as p
  inner join trials.row_fates as f
    on f.file = p.file and f.sheet is not distinct from p.sheet and f.row_number = p.row_number and f.table_name = 'plots'
  inner join trials.trials as t on t.trial_id = p.trial_id
  left join trials.picked_plots as k on k.trial_id = p.trial_id and k.plot = p.plot
  left join reference.crops as c on c.word = t.crop
),
computed as (
  select
    *,
    case product
      when 'grain' then harvest_weight_kg * (100 - moisture_pct) / (100 - standard_moisture_pct) / area_m2 * 10000
      when 'lint' then harvest_weight_kg * gin_turnout_fraction / area_m2 * 10000
    end as weighed_yield_kg_ha,
    coalesce(yield_kg_ha, yield_bu_ac * units.kg_ha_per_bu_ac(bushel_lb))
      * case when product = 'grain' and yield_moisture_pct is not null then (100 - yield_moisture_pct) / (100 - standard_moisture_pct) else 1 end
      as delivered_yield_kg_ha
  from measured
)
select
  trial_id, site_year_id, season, crop, block, main_plot, plot, treatment_code, fate, reason,
  coalesce(weighed_yield_kg_ha, delivered_yield_kg_ha) as yield_kg_ha,
  case when weighed_yield_kg_ha is not null then 'weighed' when delivered_yield_kg_ha is not null then 'delivered as a yield' end as yield_origin,
  kg_ha_per_display_unit,
  n_picks, harvest_weight_kg, moisture_pct, gin_turnout_fraction, area_m2, test_weight_kg_hl, stand_plants_ha,
  outcome, cause, file, sheet, row_number
from computed
order by trial_id, block, plot, file, row_number;
comment on table trials.plots is 'One row per delivered plot with yield (kg/ha) and fate';
