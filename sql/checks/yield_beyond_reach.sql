-- severity: noted
-- says: a yield is within what the crop can reach (noted only: no plot is left out for its yield)
-- needs: trials.plots, reference.crops, reference.display_units
select p.file, p.sheet, p.row_number, 'plots' as table_name, 'yield' as column_name, p.trial_id, null as site_id,
  round(p.yield_kg_ha / u.kg_ha_per_unit, 1) || ' ' || u.unit as found,
  round(c.hard_low * c.kg_ha_per_display_unit / u.kg_ha_per_unit, 1) || ' to ' || round(c.hard_high * c.kg_ha_per_display_unit / u.kg_ha_per_unit, 1) || ' ' || u.unit as expected,
  'weight, area, moisture or the unit in a heading must be wrong: correct it' as mend
from trials.plots as p inner join reference.crops as c on c.word = p.crop
inner join reference.display_units as u on u.crop = p.crop
where p.fate = 'used' and (p.yield_kg_ha < c.hard_low * c.kg_ha_per_display_unit or p.yield_kg_ha > c.hard_high * c.kg_ha_per_display_unit)
