-- needs: estimates.slope_calibration, estimates.runs, reports.comparisons, reference.covariate_display_units
-- One row per comparison, declared weather covariate, simulated truth and target; only where the simulated layout is that of the present inputs.
create view reports.slope_calibration as
select
  k.comparison_id, c.position, c.crop, c.unit, k.covariate, k.truth, k.target, k.target = c.declared_target as is_declared, k.n_programs,
  k.coverage, k.coverage_mc_error, k.shown_falsely, k.slope * u.size * u.step / c.kg_ha_per_unit as slope,
  c.unit || ' per ' || u.per as slope_unit, greatest(c.digits, 1) as slope_digits, k.shown_rightly, k.n_site_years, k.n_seasons, k.verdict, k.seed
from estimates.slope_calibration as k
inner join reports.comparisons as c on c.comparison_id = k.comparison_id
inner join reference.covariate_display_units as u on u.stored = k.covariate_unit
where k.inputs_sha256 = (select inputs_sha256 from estimates.runs order by rowid desc limit 1)
order by c.position, k.covariate, k.truth, k.target;
comment on view reports.slope_calibration is 'One row per comparison, declared weather covariate, simulated truth and target, for the present inputs';
