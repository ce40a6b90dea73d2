-- needs: reference.traits, reference.program
-- One row per stored unit of a trait: the unit in which reports speak of it, its size in the stored unit, decimals.
create table reference.trait_display_units as
select
  t.unit as stored,
  case when p.display_units <> 'us' then t.unit when t.unit in ('cm', 'mm') then 'in' when t.unit = 'plants/ha' then 'plants/ac' else t.unit end as unit,
  case when p.display_units <> 'us' then 1.0 when t.unit = 'cm' then units.cm_per_inch() when t.unit = 'mm' then units.mm_per_inch()
    when t.unit = 'plants/ha' then units.plants_ha_per_plants_ac() else 1.0 end as size,
  case when t.unit = 'plants/ha' then 0 when t.unit = 'mm' and p.display_units = 'us' then 3 when t.unit in ('pct', 'per plant') then 2 else 1 end as digits
from (select distinct unit from reference.traits) as t cross join reference.program as p;
comment on table reference.trait_display_units is 'One row per stored unit of a trait: display unit, its size, decimals';
