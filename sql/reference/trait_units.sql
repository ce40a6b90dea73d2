-- One row per pair of delivered and stored unit of a trait: stored = delivered times factor.
create table reference.trait_units as
select * from (values
  ('in', 'cm', units.cm_per_inch()), ('ft', 'cm', 100 * units.m_per_ft()), ('m', 'cm', 100.0), ('cm', 'cm', 1.0),
  ('mm', 'mm', 1.0), ('cm', 'mm', 10.0), ('in', 'mm', units.mm_per_inch()),
  ('pct', 'pct', 1.0), ('g/kg', 'pct', 0.1), ('per plant', 'per plant', 1.0),
  ('plants/ha', 'plants/ha', 1.0), ('plants/ac', 'plants/ha', units.plants_ha_per_plants_ac())
) as t(delivered, stored, factor);
comment on table reference.trait_units is 'One row per unit a trait may come in';
