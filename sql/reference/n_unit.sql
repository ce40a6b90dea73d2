-- needs: reference.program
-- One row: the unit in which reports speak of N rates, and its size in kg/ha.
create table reference.n_unit as
select
  case display_units when 'us' then 'lb/ac' else 'kg/ha' end as n_unit,
  case display_units when 'us' then units.kg_ha_per_lb_ac() else 1.0 end as kg_ha_per_n_unit
from reference.program;
comment on table reference.n_unit is 'One row: display unit of N rates and its size in kg/ha';
