-- needs: estimates.weather_lines, reports.comparisons, reference.covariate_display_units
-- One row per point of the line of a slope: the covariate and the average gain there, both in display units.
create view reports.weather_lines as
select
  l.comparison_id, c.position, c.crop, c.unit, c.digits, l.target, l.target = c.declared_target as is_declared, l.covariate,
  l.at / u.size + u.zero as at, u.unit as covariate_unit, u.digits as covariate_digits,
  l.estimate / c.kg_ha_per_unit as estimate, l.conf_low / c.kg_ha_per_unit as conf_low, l.conf_high / c.kg_ha_per_unit as conf_high
from estimates.weather_lines as l
inner join reports.comparisons as c on c.comparison_id = l.comparison_id
inner join reference.covariate_display_units as u on u.stored = l.covariate_unit
order by c.position, l.target, l.covariate, l.at;
comment on view reports.weather_lines is 'One row per point of the line of a slope in display units';
