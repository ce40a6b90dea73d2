-- needs: trials.place_names, staging.weather_daily, staging.rain_history, trials.row_fates
-- One row per place and day with a known rain, with the row it was delivered in; a blank day is simply not here.
create table trials.weather_days as
with used as (
  select file, sheet, row_number from trials.row_fates
  where table_name in ('weather_daily', 'rain_history') and fate = 'used'
),
days as (
  select place, date, rain_mm, file, sheet, row_number from staging.weather_daily
  union all
  select place, date, rain_mm, file, sheet, row_number from staging.rain_history
)
select coalesce(n.place, d.place) as place, d.date, d.rain_mm, d.file, d.sheet, d.row_number
from days as d
left join trials.place_names as n on n.name = lower(d.place)
inner join used as u on u.file = d.file and u.sheet is not distinct from d.sheet and u.row_number = d.row_number
where d.rain_mm is not null
qualify row_number() over (partition by coalesce(n.place, d.place), d.date order by d.file, d.row_number) = 1
order by coalesce(n.place, d.place), d.date;
comment on table trials.weather_days is 'One row per place and day with known rain (mm)';
