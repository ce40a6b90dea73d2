-- needs: estimates.calibration, estimates.runs, reports.comparisons
-- One row per comparison, simulated truth, target and method; only where the simulated layout is that of the present inputs.
create view reports.calibration as
select
  k.comparison_id, c.position, c.crop, c.unit, c.digits, k.truth, k.target, k.method, k.n_programs, k.coverage, k.coverage_mc_error,
  k.mean_width / c.kg_ha_per_unit as mean_width, k.width_mc_error / c.kg_ha_per_unit as width_mc_error,
  k.n_site_years, k.n_seasons, k.verdict, k.seed
from estimates.calibration as k
inner join reports.comparisons as c on c.comparison_id = k.comparison_id
where k.inputs_sha256 = (select inputs_sha256 from estimates.runs order by rowid desc limit 1)
order by c.position, k.truth, k.target, k.method;
comment on view reports.calibration is 'One row per comparison, simulated truth, target and method, for the present inputs';
