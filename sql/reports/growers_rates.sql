-- needs: reference.growers_rates, reference.n_unit
-- One row per crop with a usual N rate in program.yml: the rate in display units, and where it is from.
create view reports.growers_rates as
select g.crop, g.n_rate_kg_ha / n.kg_ha_per_n_unit as n_rate, n.n_unit, g."source", g.n_rate_kg_ha
from reference.growers_rates as g
cross join reference.n_unit as n
order by g.crop;
comment on view reports.growers_rates is 'One row per crop with a growers'' rate in program.yml';
