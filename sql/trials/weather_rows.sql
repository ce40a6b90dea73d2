-- needs: trials.place_names, staging.weather_daily, staging.rain_history, trials.row_fates
-- One row per delivered row of weather that is used, in the order in which they count: what came with a season before the history.
-- Air temperatures whose minimum is above their maximum are not known.
create table trials.weather_rows as
with days as (
  select 1 as source, 'weather_daily' as table_name, place, date, rain_mm, temp_max_c, temp_min_c, soil_temp_c, file, sheet, row_number
  from staging.weather_daily
  union all
  select 2, 'rain_history', place, date, rain_mm, temp_max_c, temp_min_c, soil_temp_c, file, sheet, row_number
  from staging.rain_history
)
select
  coalesce(n.place, d.place) as place, d.date, d.rain_mm, d.soil_temp_c,
  case when d.temp_min_c <= d.temp_max_c then d.temp_max_c end as temp_max_c,
  case when d.temp_min_c <= d.temp_max_c then d.temp_min_c end as temp_min_c,
  d.file, d.sheet, d.row_number, row_number() over (order by d.source, d.file, d.sheet, d.row_number) as turn
from days as d
left join trials.place_names as n on n.name = lower(d.place)
inner join trials.row_fates as u
  on u.table_name = d.table_name and u.fate = 'used'
  and u.file = d.file and u.sheet is not distinct from d.sheet and u.row_number = d.row_number;
comment on table trials.weather_rows is 'One row per delivered row of weather that is used';
