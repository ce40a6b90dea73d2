-- needs: trials.arms, trials.plots, trials.printed_means, trials.trials, estimates.block_gains, raw.current_files, reports.comparisons, reports.plots
-- One row per comparison and plot of its arms, or printed mean where a trial has no usable plots: yield in the display unit, what it was computed from, fate, file, sheet, row.
-- A plot without one to compare it with is in no gain, and its fate says so. Where a gain is adjusted for blocks over its whole trial, the plots of all treatments and rates are in it.
create view reports.sources as
with delivered as (
  select trial_id, site_year_id, season, treatment_code, block, plot, yield_kg_ha, fate, reason, file, sheet, row_number,
    null as difference_kg_ha, null as compared_with
  from trials.plots
  union all
  select
    p.trial_id, p.site_year_id, t.season, p.treatment_code, null, null, p.mean_kg_ha, 'known by print',
    'mean of ' || p.n_blocks || ' blocks, its error: ' || coalesce(p.error_kind, 'none') || '; ' || coalesce(p.citation, 'no citation'),
    p.file, p.sheet, p.row_number, p.difference_kg_ha, p.compared_with
  from trials.printed_means as p inner join trials.trials as t on t.trial_id = p.trial_id
  where p.trial_id not in (select trial_id from trials.plots where fate = 'used')
),
adjusted as (
  select b.comparison_id, b.trial_id, b.rates_missing
  from estimates.block_gains as b inner join trials.trials as t on t.trial_id = b.trial_id
  where t.design = 'incomplete block'
),
behind as (
  select
    a.comparison_id, a.trial_id, a.treatment_code, if(coalesce(list_contains(j.rates_missing, a.rate_kg_ha), false), 'joins the blocks', a.arm) as arm,
    a.rate_kg_ha
  from trials.arms as a left join adjusted as j on j.comparison_id = a.comparison_id and j.trial_id = a.trial_id
  union all
  select distinct j.comparison_id, j.trial_id, p.treatment_code, 'joins the blocks', null::double
  from adjusted as j
  inner join trials.plots as p on p.trial_id = j.trial_id and p.fate = 'used'
  anti join trials.arms as a on a.comparison_id = j.comparison_id and a.trial_id = j.trial_id and a.treatment_code = p.treatment_code
),
counted as (
  select
    a.comparison_id, a.arm, a.rate_kg_ha, d.*, j.trial_id is not null as is_adjusted,
    d.fate in ('used', 'known by print') and j.trial_id is null and not exists (
      from estimates.block_gains as b
      where b.comparison_id = a.comparison_id and b.trial_id = d.trial_id and (b.block = coalesce(d.block, 'print') or s.design = 'CRD')
        and not coalesce(list_contains(b.rates_missing, a.rate_kg_ha), false)
    ) as is_alone
  from behind as a
  inner join delivered as d on d.trial_id = a.trial_id and d.treatment_code = a.treatment_code
  inner join trials.trials as s on s.trial_id = a.trial_id
  left join adjusted as j on j.comparison_id = a.comparison_id and j.trial_id = a.trial_id
)
select
  d.comparison_id, c.position, d.trial_id, d.site_year_id, d.arm, d.treatment_code,
  d.rate_kg_ha, units.lb_ac(d.rate_kg_ha) as rate_lb_ac, d.block, d.plot,
  d.yield_kg_ha / c.kg_ha_per_unit as yield, c.unit, c.digits,
  w.yield_origin, w.harvest_weight_lb, w.harvest_weight_kg, w.moisture_pct, w.gin_turnout_fraction, w.harvest_area_ft2, w.harvest_area_m2,
  case when d.is_alone then 'not compared' else d.fate end as fate,
  concat('difference of ' || format('{:.' || c.digits || 'f}', d.difference_kg_ha / c.kg_ha_per_unit) || ' ' || c.unit || ' from ' || d.compared_with || ', ',
    if(d.is_alone and d.plot is not null, 'the other arm has no yield beside it', d.reason)) as reason,
  d.is_adjusted, t.design = 'strips' as is_strip_point, d.file, d.sheet, d.row_number, f.sha256
from counted as d
inner join reports.comparisons as c on c.comparison_id = d.comparison_id
inner join trials.trials as t on t.trial_id = d.trial_id
left join reports.plots as w on w.file = d.file and w.sheet is not distinct from d.sheet and w.row_number = d.row_number
left join raw.current_files as f on f.file = d.file
order by c.position, d.season, d.trial_id, d.arm, d.rate_kg_ha, d.block, d.plot, d.row_number;
comment on view reports.sources is 'One row per comparison and plot or printed mean: yield in display units, file, sheet, row and sha256';
