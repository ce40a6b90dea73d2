-- needs: estimates.weather_slope_checks, estimates.weather_slopes, reports.comparisons, reference.covariate_display_units
-- One row per headline slope and season or site-year left out of it, told as in reports.weather_slopes.
create view reports.weather_slope_checks as
select
  k.comparison_id, c.position, c.crop, k.target, k.target = c.declared_target as is_declared, k.covariate, k.kind, k.left_out,
  k.estimate * u.size * u.step / c.kg_ha_per_unit as estimate,
  k.conf_low * u.size * u.step / c.kg_ha_per_unit as conf_low, k.conf_high * u.size * u.step / c.kg_ha_per_unit as conf_high,
  c.unit || ' per ' || u.per as slope_unit, greatest(c.digits, 1) as slope_digits, k.change_in_std_errors
from estimates.weather_slope_checks as k
inner join reports.comparisons as c on c.comparison_id = k.comparison_id
inner join (select distinct comparison_id, target, covariate, covariate_unit from estimates.weather_slopes) as s
  on s.comparison_id = k.comparison_id and s.target = k.target and s.covariate = k.covariate
inner join reference.covariate_display_units as u on u.stored = s.covariate_unit
order by c.position, k.target, k.covariate, k.kind, k.left_out;
comment on view reports.weather_slope_checks is 'One row per headline slope and season or site-year left out of it';
