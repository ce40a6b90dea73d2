-- severity: noted
-- says: a fertilized plot's yield lies in the crop's usual range (noted only)
-- needs: trials.plots, trials.treatments, reference.crops, reference.display_units
select p.file, p.sheet, p.row_number, 'plots' as table_name, 'yield' as column_name, p.trial_id, null as site_id,
  round(p.yield_kg_ha / u.kg_ha_per_unit, 1) || ' ' || u.unit as found,
  'usually ' || round(c.typical_low * c.kg_ha_per_display_unit / u.kg_ha_per_unit, 1) || ' to ' || round(c.typical_high * c.kg_ha_per_display_unit / u.kg_ha_per_unit, 1) || ' ' || u.unit as expected,
  'check the field sheet' as mend
from trials.plots as p
inner join reference.crops as c on c.word = p.crop
inner join reference.display_units as u on u.crop = p.crop
inner join trials.treatments as t on t.trial_id = p.trial_id and t.treatment_code = p.treatment_code
where p.fate = 'used' and not t.is_zero_n
  and (p.yield_kg_ha < c.typical_low * c.kg_ha_per_display_unit or p.yield_kg_ha > c.typical_high * c.kg_ha_per_display_unit)
  and p.yield_kg_ha between c.hard_low * c.kg_ha_per_display_unit and c.hard_high * c.kg_ha_per_display_unit
