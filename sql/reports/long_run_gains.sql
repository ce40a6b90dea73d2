-- needs: estimates.long_run_gains, reports.comparisons
-- One row per comparison and target: the average gain at long-run weather in the display unit, or why there is none.
create view reports.long_run_gains as
select
  g.estimate_id, g.comparison_id, c.position, c.says, c.crop, c.unit, c.digits, g.target, g.target = c.declared_target as is_declared,
  g.estimate / c.kg_ha_per_unit as estimate, g.conf_low / c.kg_ha_per_unit as conf_low, g.conf_high / c.kg_ha_per_unit as conf_high,
  sqrt(g.tau2) / c.kg_ha_per_unit as tau, g.df, g.df_method, g.conf_level, g.n_site_years, g.n_places, g.n_seasons, g.n_unknown,
  g.classes_met, g.classes_unmet, g.unmet_share, g.reason, g.formula, g.warnings, g.estimate as estimate_kg_ha
from estimates.long_run_gains as g
inner join reports.comparisons as c on c.comparison_id = g.comparison_id
order by c.position, g.target;
comment on view reports.long_run_gains is 'One row per average gain at long-run weather';
