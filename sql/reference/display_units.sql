-- needs: reference.crops, reference.program
-- One row per crop: the unit reports speak first, kg/ha in one such unit, and decimals to print.
create table reference.display_units as
select
  c.word as crop,
  case p.display_units when 'us' then c.display_unit else 'kg/ha' end as unit,
  case p.display_units when 'us' then c.kg_ha_per_display_unit else 1.0 end as kg_ha_per_unit,
  case p.display_units when 'us' then c.display_digits else 0 end as digits
from reference.crops as c cross join reference.program as p;
comment on table reference.display_units is 'One row per crop: display unit, its size in kg/ha, decimals';
