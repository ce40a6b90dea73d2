-- needs: reference.rainfall_windows, trials.first_harvests
-- One row per crop: the window and reference period by which site-years are classed, and the first harvest they are used with.
create view reports.rainfall_rule as
select w.*, h.first_harvest, h.known_by, coalesce(w.fixed_on > h.first_harvest, false) as is_late
from reference.rainfall_windows as w
left join (
  select crop, min(first_harvest) as first_harvest, arg_min(known_by, first_harvest) as known_by from trials.first_harvests group by crop
) as h on h.crop = w.crop
order by w.crop;
comment on view reports.rainfall_rule is 'One row per crop: rainfall window and reference period';
