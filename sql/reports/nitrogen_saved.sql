-- needs: estimates.nitrogen_saved, reports.comparisons, reference.n_unit
-- One row per comparison and rate: N saved at equal yield in the display unit, or why it is not estimable.
create view reports.nitrogen_saved as
select
  s.estimate_id, s.comparison_id, c.position, c.says, c.crop, s.family, s.comparator_family, s."at" as rate_is, n.n_unit, s.comparator_rate / n.kg_ha_per_n_unit as comparator_rate,
  s.same_yield_rate / n.kg_ha_per_n_unit as same_yield_rate, s.nitrogen_saved / n.kg_ha_per_n_unit as nitrogen_saved,
  s.conf_low / n.kg_ha_per_n_unit as conf_low, s.conf_high / n.kg_ha_per_n_unit as conf_high, s.conf_level,
  s.nitrogen_saved as nitrogen_saved_kg_ha, s.status, s.n_site_years, s.warnings
from estimates.nitrogen_saved as s
inner join reports.comparisons as c on c.comparison_id = s.comparison_id
cross join reference.n_unit as n
order by c.position, s."at", s.comparator_rate;
comment on view reports.nitrogen_saved is 'One row per nitrogen saved at equal yield';
