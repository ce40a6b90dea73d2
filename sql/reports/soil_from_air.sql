-- needs: trials.soil_from_air, reference.program
-- One row per place where soil temperature was measured: how far its estimate from the air is off, in the readers' unit.
create view reports.soil_from_air as
select
  s.place, s.n_days, s.bias_c / u.size as bias, s.rmse_c / u.size as rmse, u.unit
from trials.soil_from_air as s
cross join (
  select case display_units when 'us' then '°F' else '°C' end as unit, case display_units when 'us' then units.c_per_f() else 1.0 end as size
  from reference.program
) as u
order by s.place;
comment on view reports.soil_from_air is 'One row per place where soil temperature was measured';
