-- needs: reference.program_crops
-- One row per crop, with what one display unit is in stored units (kg/ha).
create table reference.crops as
with known as (
  select
    word, product, cast(bushel_lb as double) as bushel_lb, cast(standard_moisture_pct as double) as standard_moisture_pct,
    display_unit, cast(display_digits as integer) as display_digits,
    cast(typical_low as double) as typical_low, cast(typical_high as double) as typical_high,
    cast(hard_low as double) as hard_low, cast(hard_high as double) as hard_high, source
  from read_csv(getvariable('sql_folder') || '/reference/crops.csv', header = true, all_varchar = true)
  union all by name
  select *, 'program.yml' as source from reference.program_crops
)
select
  *,
  case display_unit when 'bu/ac' then units.kg_ha_per_bu_ac(bushel_lb) else units.kg_ha_per_lb_ac() end as kg_ha_per_display_unit
from known;
comment on table reference.crops is 'One row per crop: bushel weight, standard moisture, ranges in display units, kg/ha per display unit';
