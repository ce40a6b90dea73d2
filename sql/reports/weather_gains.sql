-- needs: estimates.weather_gains, reports.comparisons
-- One row per average gain on the line of a slope over the reference years, by place or drainage group, in the display unit.
create view reports.weather_gains as
select
  g.estimate_id, g.comparison_id, c.position, c.says, c.crop, c.unit, c.digits, c.kg_ha_per_unit, g.target, g.target = c.declared_target as is_declared,
  g.covariate, g.level, g.estimate / c.kg_ha_per_unit as estimate, g.std_error / c.kg_ha_per_unit as std_error, g.df, g.df_method, g.conf_level,
  g.conf_low / c.kg_ha_per_unit as conf_low, g.conf_high / c.kg_ha_per_unit as conf_high,
  g.n_years, g.share_outside, g.reason, g.warnings, g.estimate as estimate_kg_ha
from estimates.weather_gains as g
inner join reports.comparisons as c on c.comparison_id = g.comparison_id
order by c.position, g.target, g.covariate, g.level <> 'all', length(g.level) > 1, g.level;
comment on view reports.weather_gains is 'One row per average gain over the reference years of a weather covariate';
