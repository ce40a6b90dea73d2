-- needs: estimates.ladder_plots, trials.plots, trials.trials, raw.current_files, reference.display_units, reference.n_unit, reports.plots
-- One row per plot of an N response curve (zero-N plots in each): yield in the display unit, what it was computed from, file, sheet, row.
create view reports.ladder_sources as
select
  l.crop, l.family, l.variant, l.trial_id, t.site_year_id, t.place, t.season,
  'N rate ' || round(l.n_rate_kg_ha / n.kg_ha_per_n_unit) || ' ' || n.n_unit as arm, l.treatment_code,
  l.n_rate_kg_ha / n.kg_ha_per_n_unit as n_rate, n.n_unit, p.block, p.plot, p.yield_kg_ha / u.kg_ha_per_unit as yield, u.unit, u.digits,
  w.yield_origin, w.harvest_weight_lb, w.harvest_weight_kg, w.moisture_pct, w.gin_turnout_fraction, w.harvest_area_ft2, w.harvest_area_m2,
  p.fate, p.reason, p.file, p.sheet, p.row_number, f.sha256
from estimates.ladder_plots as l
inner join trials.plots as p
  on p.trial_id = l.trial_id and p.treatment_code = l.treatment_code and p.block is not distinct from l.block and p.plot = l.plot and p.fate = 'used'
inner join trials.trials as t on t.trial_id = l.trial_id
inner join reference.display_units as u on u.crop = l.crop
left join reports.plots as w on w.file = p.file and w.sheet is not distinct from p.sheet and w.row_number = p.row_number
left join raw.current_files as f on f.file = p.file
cross join reference.n_unit as n
order by l.crop, l.family, t.season, l.trial_id, l.variant, l.n_rate_kg_ha, p.block, p.plot, p.row_number;
comment on view reports.ladder_sources is 'One row per plot of an N response curve: yield in display units, file, sheet, row and sha256';
