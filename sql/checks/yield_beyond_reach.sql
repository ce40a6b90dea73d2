-- severity: noted
-- says: a yield lies in what the crop can reach (noted only: no plot is left out for its yield)
-- needs: trials.plots, reference.crops
select p.file, p.sheet, p.row_number, 'plots' as table_name, 'yield' as column_name, p.trial_id, null as site_id,
  round(p.yield_kg_ha / c.kg_ha_per_display_unit, 1) || ' ' || c.display_unit as found,
  c.hard_low || ' to ' || c.hard_high || ' ' || c.display_unit as expected,
  'weight, area, moisture or the unit in a heading must be wrong: correct it' as mend
from trials.plots as p inner join reference.crops as c on c.word = p.crop
where p.fate = 'used' and (p.yield_kg_ha < c.hard_low * c.kg_ha_per_display_unit or p.yield_kg_ha > c.hard_high * c.kg_ha_per_display_unit)
