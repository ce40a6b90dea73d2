-- needs: trials.weather_days, trials.window_rainfall, reference.rainfall_windows
-- One row per place, crop and year of the fixed reference period: rain over the same calendar window.
create table trials.reference_rainfall as
with places as (select distinct place, crop from trials.window_rainfall),
wanted as (
  select p.place, p.crop, y.year,
    cast((y.year - (w.first_day > w.last_day)::int) || '-' || w.first_day as date) as first_date,
    cast(y.year || '-' || w.last_day as date) as last_date
  from places as p
  inner join reference.rainfall_windows as w on w.crop = p.crop
  cross join lateral (select unnest(range(w.first_year, w.last_year + 1)) as year) as y
)
select
  w.place, w.crop, cast(w.year as integer) as year, sum(d.rain_mm) as rain_mm,
  date_diff('day', w.first_date, w.last_date) + 1 - count(d.date) as n_days_missing
from wanted as w
inner join trials.weather_days as d on d.place = w.place and d.date between w.first_date and w.last_date
group by w.place, w.crop, w.year, w.first_date, w.last_date
order by w.place, w.crop, w.year;
comment on table trials.reference_rainfall is 'One row per place, crop and reference year: rain in the window (mm)';
