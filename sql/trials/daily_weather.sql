-- needs: trials.place_names, staging.weather_daily, staging.rain_history, trials.row_fates
-- One row per place and day with anything known; what was delivered with the season comes before the history.
-- Air temperatures whose minimum is above their maximum are not known.
create table trials.daily_weather as
with days as (
  select 1 as source, 'weather_daily' as table_name, place, date, rain_mm, temp_max_c, temp_min_c, soil_temp_c, file, sheet, row_number
  from staging.weather_daily
  union all
  select 2, 'rain_history', place, date, rain_mm, temp_max_c, temp_min_c, soil_temp_c, file, sheet, row_number
  from staging.rain_history
),
used as (
  select coalesce(n.place, d.place) as place, d.date, d.rain_mm, d.soil_temp_c,
    case when d.temp_min_c <= d.temp_max_c then d.temp_max_c end as temp_max_c,
    case when d.temp_min_c <= d.temp_max_c then d.temp_min_c end as temp_min_c,
    row_number() over (order by d.source, d.file, d.sheet, d.row_number) as turn
  from days as d
  left join trials.place_names as n on n.name = lower(d.place)
  inner join trials.row_fates as u
    on u.table_name = d.table_name and u.fate = 'used'
    and u.file = d.file and u.sheet is not distinct from d.sheet and u.row_number = d.row_number
)
select
  place, date,
  arg_min(rain_mm, turn) as rain_mm, arg_min(temp_max_c, turn) as temp_max_c, arg_min(temp_min_c, turn) as temp_min_c,
  arg_min(soil_temp_c, turn) as soil_temp_c
from used
group by place, date
having count(rain_mm) + count(temp_max_c) + count(soil_temp_c) > 0
order by place, date;
comment on table trials.daily_weather is 'One row per place and day: rain (mm), air and soil temperature (C)';
