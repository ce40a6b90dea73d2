-- needs: trials.plots, reference.display_units
-- One row per delivered plot in the display unit, with what its yield was computed from, its fate and where it was delivered.
create view reports.plots as
select
  p.trial_id, p.site_year_id, p.season, p.crop, p.block, p.main_plot, p.plot, p.treatment_code,
  p.yield_kg_ha / u.kg_ha_per_unit as yield, u.unit, p.yield_kg_ha, p.yield_origin,
  units.lb(p.harvest_weight_kg) as harvest_weight_lb, p.harvest_weight_kg, p.moisture_pct, p.gin_turnout_fraction,
  units.sq_ft(p.area_m2) as harvest_area_ft2, p.area_m2 as harvest_area_m2, p.fate, p.reason, p.cause, p.file, p.sheet, p.row_number
from trials.plots as p inner join reference.display_units as u on u.crop = p.crop
order by p.trial_id, p.block, p.plot;
comment on view reports.plots is 'One row per delivered plot in display units';
