-- needs: estimates.ladder_plots, trials.plots, trials.printed_means, trials.trials, raw.current_files, reference.display_units, reference.n_unit, reports.plots
-- One row per plot, or printed mean, of an N response curve (zero-N in each): yield in the display unit, what it was computed from, file, sheet, row.
create view reports.ladder_sources as
with delivered as (
  select l.*, p.yield_kg_ha, p.fate, p.reason, p.file, p.sheet, p.row_number
  from estimates.ladder_plots as l
  inner join trials.plots as p
    on p.trial_id = l.trial_id and p.treatment_code = l.treatment_code and p.block is not distinct from l.block and p.plot = l.plot and p.fate = 'used'
  union all
  select
    l.*, m.mean_kg_ha, 'known by print',
    'mean of ' || m.n_blocks || ' blocks, its error: ' || coalesce(m.error_kind, 'none') || '; ' || coalesce(m.citation, 'no citation'),
    m.file, m.sheet, m.row_number
  from estimates.ladder_plots as l
  inner join trials.printed_means as m on m.trial_id = l.trial_id and m.treatment_code = l.treatment_code
  where l.plot is null
)
select
  l.crop, l.family, l.variant, l.trial_id, t.site_year_id, t.place, t.season,
  'N rate ' || round(l.n_rate_kg_ha / n.kg_ha_per_n_unit)::integer || ' ' || n.n_unit as arm, l.treatment_code,
  l.n_rate_kg_ha / n.kg_ha_per_n_unit as n_rate, n.n_unit, l.block, l.plot, l.yield_kg_ha / u.kg_ha_per_unit as yield, u.unit, u.digits,
  w.yield_origin, w.harvest_weight_lb, w.harvest_weight_kg, w.moisture_pct, w.gin_turnout_fraction, w.harvest_area_ft2, w.harvest_area_m2,
  l.fate, l.reason, l.file, l.sheet, l.row_number, f.sha256
from delivered as l
inner join trials.trials as t on t.trial_id = l.trial_id
inner join reference.display_units as u on u.crop = l.crop
left join reports.plots as w on w.file = l.file and w.sheet is not distinct from l.sheet and w.row_number = l.row_number
left join raw.current_files as f on f.file = l.file
cross join reference.n_unit as n
order by l.crop, l.family, t.season, l.trial_id, l.variant, l.n_rate_kg_ha, l.block, l.plot, l.row_number;
comment on view reports.ladder_sources is 'One row per plot or printed mean of an N response curve: yield in display units, file, sheet, row and sha256';
