-- needs: estimates.weather_slopes, reports.comparisons, reference.covariate_display_units
-- One row per slope of the gain on a weather covariate, told for `step` display units of the covariate in the yield's display unit.
create view reports.weather_slopes as
select
  s.estimate_id, s.comparison_id, c.position, c.says, c.crop, c.unit, c.digits, c.kg_ha_per_unit, s.target, s.target = c.declared_target as is_declared,
  s.covariate, s.kind, s.part, s.method,
  s.estimate * u.size * u.step / c.kg_ha_per_unit as estimate, s.std_error * u.size * u.step / c.kg_ha_per_unit as std_error,
  s.df, s.df_method, s.conf_level,
  s.conf_low * u.size * u.step / c.kg_ha_per_unit as conf_low, s.conf_high * u.size * u.step / c.kg_ha_per_unit as conf_high,
  c.unit || ' per ' || u.per as slope_unit, greatest(c.digits, 1) as slope_digits, u.step,
  u.unit as covariate_unit, u.digits as covariate_digits,
  s.p_value, s.p_value_holm, s.n_tests, s.is_headline, s.is_shown, s.carried_by,
  s.center / u.size + u.zero as center, s.gain_at_center / c.kg_ha_per_unit as gain_at_center,
  s.lowest / u.size + u.zero as lowest, s.highest / u.size + u.zero as highest, s.within_share,
  s.n_site_years, s.n_places, s.n_seasons, s.n_distinct, s.n_unknown,
  sqrt(s.tau2_before) / c.kg_ha_per_unit as tau_before, sqrt(s.tau2_after) / c.kg_ha_per_unit as tau_after,
  s.p_permutation, s.n_permutations, s.aicc_line, s.aicc_curve, s.reason, s.rule, s.formula, s.warnings, s.estimate as estimate_kg_ha
from estimates.weather_slopes as s
inner join reports.comparisons as c on c.comparison_id = s.comparison_id
inner join reference.covariate_display_units as u on u.stored = s.covariate_unit
order by c.position, s.target, s.kind, s.covariate, s.is_headline desc, s.part, s.method;
comment on view reports.weather_slopes is 'One row per slope of the gain on a weather covariate in display units';
