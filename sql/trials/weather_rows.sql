-- needs: trials.place_names, staging.weather_daily, staging.rain_history, trials.row_fates
-- One row per delivered row of weather that is used. Those of a lower turn count first: what came with a season before the history.
-- The turn is the file's place among the files and, in its last 32 bits, the row; rows are in no order, as sorting them costs memory.
-- Air temperatures whose minimum is above their maximum are not known, nor are temperatures beyond their hard ranges.
create table trials.weather_rows as
with days as not materialized (
  select 1 as source, 'weather_daily' as table_name, place, date, rain_mm, temp_max_c, temp_min_c, soil_temp_c, file, sheet, row_number
  from staging.weather_daily
  union all
  select 2, 'rain_history', place, date, rain_mm, temp_max_c, temp_min_c, soil_temp_c, file, sheet, row_number
  from staging.rain_history
),
within_reach as (
  select * exclude (temp_max_c, temp_min_c, soil_temp_c),
    known.temp_max_c(temp_max_c) as temp_max_c, known.temp_min_c(temp_min_c) as temp_min_c, known.soil_temp_c(soil_temp_c) as soil_temp_c
  from days
),
files as (
  select source, file, sheet, row_number() over (order by source, file, sheet) as position
  from (select distinct source, file, sheet from days)
)
select
  coalesce(n.place, d.place) as place, d.date, d.rain_mm, d.soil_temp_c,
  case when d.temp_min_c <= d.temp_max_c then d.temp_max_c end as temp_max_c,
  case when d.temp_min_c <= d.temp_max_c then d.temp_min_c end as temp_min_c,
  d.file, d.sheet, d.row_number, f.position * 4294967296 + d.row_number as turn
from within_reach as d
inner join files as f on f.source = d.source and f.file = d.file and f.sheet is not distinct from d.sheet
left join trials.place_names as n on n.name = lower(d.place)
-- few rows are not used, so that this needs less memory than looking for those that are
anti join (select * from trials.row_fates where fate <> 'used') as u
  on u.table_name = d.table_name and u.file = d.file and u.sheet is not distinct from d.sheet and u.row_number = d.row_number;
comment on table trials.weather_rows is 'One row per delivered row of weather that is used';
