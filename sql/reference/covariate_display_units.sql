-- needs: reference.program
-- One row per stored unit of a weather covariate: the unit in which reports speak of it, how a value is carried over
-- (value / size + zero), decimals, and how many such units a slope is told for, so that it does not vanish in rounding.
create table reference.covariate_display_units as
select
  s.stored,
  case when p.display_units = 'us' then s.us else s.metric end as unit,
  case when p.display_units = 'us' then s.size else 1.0 end as size,
  case when p.display_units = 'us' then s.zero else 0.0 end as zero,
  case when p.display_units = 'us' then s.us_digits else s.metric_digits end as digits,
  case when p.display_units = 'us' then s.us_step else s.metric_step end as step,
  case when p.display_units = 'us' then s.us_per else s.metric_per end as per
from (
  values
    ('mm', 'in.', 'mm', units.mm_per_inch(), 0.0, 1, 0, 1.0, 10.0, 'in.', '10 mm'),
    ('C', '°F', '°C', units.c_per_f(), units.f_at_0_c(), 1, 1, 1.0, 1.0, '°F', '°C'),
    ('days', 'days', 'days', 1.0, 0.0, 0, 0, 1.0, 1.0, 'day', 'day'),
    ('%', '%', '%', 1.0, 0.0, 0, 0, 10.0, 10.0, '10%', '10%')
) as s(stored, us, metric, size, zero, us_digits, metric_digits, us_step, metric_step, us_per, metric_per)
cross join reference.program as p;
comment on table reference.covariate_display_units is 'One row per stored unit of a weather covariate: display unit, its size and zero, decimals';
