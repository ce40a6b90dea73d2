-- needs: estimates.variance_components, reports.comparisons
-- One row per component of how gains vary, as a standard deviation in the display unit.
create view reports.variance_components as
select v.comparison_id, c.position, c.crop, c.unit, v.target, v.component, sqrt(v.variance) / c.kg_ha_per_unit as standard_deviation
from estimates.variance_components as v inner join reports.comparisons as c on c.comparison_id = v.comparison_id
order by c.position, v.target, v.component;
comment on view reports.variance_components is 'One row per variance component, as a standard deviation in display units';
