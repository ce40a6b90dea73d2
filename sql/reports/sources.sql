-- needs: trials.arms, trials.plots, trials.printed_means, trials.trials, raw.current_files, reports.comparisons, reports.plots
-- One row per comparison and plot of its arms, or printed mean where a trial has no plots: yield in the display unit, what it was computed from, fate, file, sheet, row.
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
  where p.trial_id not in (select trial_id from trials.plots)
)
select
  a.comparison_id, c.position, d.trial_id, d.site_year_id, a.arm, d.treatment_code,
  a.rate_kg_ha, units.lb_ac(a.rate_kg_ha) as rate_lb_ac, d.block, d.plot,
  d.yield_kg_ha / c.kg_ha_per_unit as yield, c.unit, c.digits,
  w.yield_origin, w.harvest_weight_lb, w.harvest_weight_kg, w.moisture_pct, w.gin_turnout_fraction, w.harvest_area_ft2, w.harvest_area_m2,
  d.fate,
  concat('difference of ' || format('{:.' || c.digits || 'f}', d.difference_kg_ha / c.kg_ha_per_unit) || ' ' || c.unit || ' from ' || d.compared_with || ', ', d.reason) as reason,
  d.file, d.sheet, d.row_number, f.sha256
from trials.arms as a
inner join reports.comparisons as c on c.comparison_id = a.comparison_id
inner join delivered as d on d.trial_id = a.trial_id and d.treatment_code = a.treatment_code
left join reports.plots as w on w.file = d.file and w.sheet is not distinct from d.sheet and w.row_number = d.row_number
left join raw.current_files as f on f.file = d.file
order by c.position, d.season, d.trial_id, a.arm, a.rate_kg_ha, d.block, d.plot, d.row_number;
comment on view reports.sources is 'One row per comparison and plot or printed mean: yield in display units, file, sheet, row and sha256';
