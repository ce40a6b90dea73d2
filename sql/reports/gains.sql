-- needs: estimates.pooled_gains, reports.comparisons
-- One row per pooled estimate in the display unit, kg/ha beside it; `is_declared` marks the target the comparison declares.
create view reports.gains as
select
  p.estimate_id, p.comparison_id, c.position, c.says, c.crop, c.unit, c.digits, c.kg_ha_per_unit,
  p.target, p.target = c.declared_target as is_declared, p.method, p.moderator, p.level,
  p.estimate / c.kg_ha_per_unit as estimate,
  p.std_error / c.kg_ha_per_unit as std_error, p.df, p.df_method, p.conf_level,
  p.conf_low / c.kg_ha_per_unit as conf_low, p.conf_high / c.kg_ha_per_unit as conf_high,
  p.pred_low / c.kg_ha_per_unit as pred_low, p.pred_high / c.kg_ha_per_unit as pred_high, p.pred_method,
  p.observed_low / c.kg_ha_per_unit as observed_low, p.observed_high / c.kg_ha_per_unit as observed_high,
  100 * p.estimate / c.kg_ha_per_unit / c.comparator_mean as estimate_pct,
  sqrt(p.tau2) / c.kg_ha_per_unit as tau,
  p.q_stat, p.i2_pct,
  p.n_site_years, p.n_places, p.n_seasons, p.n_trials, p.n_unknown, p.seasons,
  p.shown_as, p.is_headline, p.rule, p.formula, p.warnings,
  p.estimate as estimate_kg_ha, p.conf_low as conf_low_kg_ha, p.conf_high as conf_high_kg_ha,
  p.pred_low as pred_low_kg_ha, p.pred_high as pred_high_kg_ha
from estimates.pooled_gains as p
inner join reports.comparisons as c on c.comparison_id = p.comparison_id
order by c.position, p.target, p.moderator, p.level, p.method;
comment on view reports.gains is 'One row per pooled estimate in display units';
