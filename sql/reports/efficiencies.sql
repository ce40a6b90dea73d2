-- needs: estimates.efficiencies, reference.display_units, reference.n_unit
-- One row per crop, family, rate and efficiency: kg of yield per kg of N, and in display units per lb of N.
create view reports.efficiencies as
select
  e.estimate_id, e.crop, e.family, e.n_rate_kg_ha / n.kg_ha_per_n_unit as n_rate, e.n_rate_kg_ha, n.n_unit, e.efficiency,
  e.estimate, e.conf_low, e.conf_high, e.conf_level, e.estimate * n.kg_ha_per_n_unit / u.kg_ha_per_unit as estimate_display,
  u.unit, e.n_site_years, e.status
from estimates.efficiencies as e
inner join reference.display_units as u on u.crop = e.crop
cross join reference.n_unit as n
order by e.crop, e.efficiency, e.family, e.n_rate_kg_ha;
comment on view reports.efficiencies is 'One row per nitrogen efficiency';
