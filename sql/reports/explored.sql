-- needs: estimates.explored, reports.comparisons
-- One row per class and method of an exploratory breakdown in the display unit; nothing is claimed from these.
create view reports.explored as
select
  e.estimate_id, e.comparison_id, c.position, c.says, c.crop, c.unit, c.digits, e.target, e.target = c.declared_target as is_declared,
  e.method, e.moderator, e.level,
  case when e.moderator = 'N rate' then cast(e.level as double) end as rate_kg_ha,
  case when e.moderator = 'N rate' then units.lb_ac(cast(e.level as double)) end as rate_lb_ac,
  e.estimate / c.kg_ha_per_unit as estimate, e.std_error / c.kg_ha_per_unit as std_error, e.df, e.df_method, e.conf_level,
  e.conf_low / c.kg_ha_per_unit as conf_low, e.conf_high / c.kg_ha_per_unit as conf_high,
  e.n_site_years, e.n_seasons, e.n_unknown, e.seasons, e.shown_as, e.is_headline, e.kind, e.p_value, e.p_value_holm, e.rule, e.formula, e.warnings
from estimates.explored as e
inner join reports.comparisons as c on c.comparison_id = e.comparison_id
order by c.position, e.target, e.moderator, rate_kg_ha, e.level, e.method;
comment on view reports.explored is 'One row per class and method of an exploratory breakdown in display units; n_unknown: site-years left out of it';
