-- needs: estimates.shrunken_gains, reports.comparisons
-- One row per comparison and site-year in the display unit: its own gain, and drawn toward the others'.
create view reports.shrunken_gains as
select
  s.comparison_id, c.position, c.crop, c.unit, c.digits, s.site_year_id, s.gain / c.kg_ha_per_unit as gain,
  s.shrunken_gain / c.kg_ha_per_unit as shrunken_gain, s.shrunken_std_error / c.kg_ha_per_unit as shrunken_std_error
from estimates.shrunken_gains as s
inner join reports.comparisons as c on c.comparison_id = s.comparison_id
order by c.position, s.site_year_id;
comment on view reports.shrunken_gains is 'One row per comparison and site-year: best prediction of its true gain in display units';
