-- needs: staging.plots, trials.picked_plots, staging.trials, reference.crops
-- One row per plot that counts and has no yield: what is missing of what one is computed from.
create table trials.plots_without_yield as
with described as (  -- a trial may be told twice
  select trial_id, min(crop) as crop, known.row_spacing_cm(min(row_spacing_cm)) as row_spacing_cm from staging.trials group by trial_id
),
needed as (
  select p.* exclude (harvest_weight_kg, gin_turnout_fraction), coalesce(p.harvest_weight_kg, k.harvest_weight_kg) as harvest_weight_kg,
    coalesce(p.gin_turnout_fraction, k.gin_turnout_fraction) as gin_turnout_fraction, t.row_spacing_cm, c.product
  from staging.plots as p
  left join trials.picked_plots as k on k.trial_id = p.trial_id and k.plot = p.plot
  inner join described as t on t.trial_id = p.trial_id
  inner join reference.crops as c on c.word = t.crop
  where (p.outcome = 'harvested' or p.caused_by_treatment)
    and p.yield_kg_ha is null and (p.yield_bu_ac is null or c.bushel_lb is null)
),
lacking as (
  select *, list_filter([
      case when harvest_weight_kg is null then 'harvest_weight' end,
      case when product = 'grain' and moisture_pct is null then 'moisture_pct' end,
      case when product = 'lint' and gin_turnout_fraction is null then 'gin_turnout' end,
      case when harvest_length_m is null then 'harvest_length' end,
      case when harvest_width_m is null and (rows_harvested is null or row_spacing_cm is null) then 'harvest_width (or rows_harvested and row_spacing)' end
    ], lambda x: x is not null) as missing
  from needed
)
select file, sheet, row_number, trial_id, outcome, missing from lacking where len(missing) > 0;
comment on table trials.plots_without_yield is 'One row per plot that counts and has no yield';
