-- needs: trials.trials, trials.weather_days, reference.rainfall_windows
-- One row per place, season and crop: rain over the crop's window, and how many of its days are unknown.
-- A window that ends before it begins starts in the year before harvest.
create table trials.window_rainfall as
with wanted as (
  select distinct
    t.site_year_id, t.place, t.season, t.crop, w.first_day, w.last_day,
    try_cast((t.season - (w.first_day > w.last_day)::int) || '-' || w.first_day as date) as first_date,
    try_cast(t.season || '-' || w.last_day as date) as last_date
  from trials.trials as t inner join reference.rainfall_windows as w on w.crop = t.crop
  where t.place is not null and t.season is not null
)
select
  w.site_year_id, w.place, w.season, w.crop, w.first_day as window_from, w.last_day as window_to,
  sum(d.rain_mm) as rain_mm,
  date_diff('day', w.first_date, w.last_date) + 1 as n_days,
  date_diff('day', w.first_date, w.last_date) + 1 - count(d.date) as n_days_missing
from wanted as w
left join trials.weather_days as d on d.place = w.place and d.date between w.first_date and w.last_date
where w.first_date is not null -- a mistyped season, whose trial is held
group by w.site_year_id, w.place, w.season, w.crop, w.first_day, w.last_day, w.first_date, w.last_date
order by w.place, w.season, w.crop;
comment on table trials.window_rainfall is 'One row per place, season and crop: rain in the window (mm)';
