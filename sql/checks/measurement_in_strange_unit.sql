-- severity: sets the row aside
-- says: a measurement's unit fits its trait, and its value is in the trait's hard range
-- needs: staging.measurements, reference.traits, reference.trait_units, reference.trait_display_units
-- rows of: staging.measurements
select m.file, m.sheet, m.row_number, 'measurements' as table_name, 'value, unit' as column_name, m.trial_id, null as site_id,
  m.value || ' ' || m.unit as found,
  round(t.hard_low / s.size, s.digits) || ' to ' || round(t.hard_high / s.size, s.digits) || ' ' || s.unit || ' for ' || t.word as expected, 'correct the value or the unit' as mend
from staging.measurements as m
inner join reference.traits as t on t.word = m.trait
inner join reference.trait_display_units as s on s.stored = t.unit
left join reference.trait_units as u on u.delivered = m.unit and u.stored = t.unit
where m.value is not null and m.unit in (select delivered from reference.trait_units)
  and (u.factor is null or m.value * u.factor < t.hard_low or m.value * u.factor > t.hard_high)
