-- severity: noted
-- says: the lowest temperature of a day is not above the highest
-- needs: staging.weather_daily, staging.rain_history
with days as (
  select 'weather_daily' as table_name, file, sheet, row_number, place, date, temp_min_c, temp_max_c from staging.weather_daily
  union all
  select 'rain_history', file, sheet, row_number, place, date, temp_min_c, temp_max_c from staging.rain_history
)
select file, sheet, row_number, table_name, 'temp_min' as column_name, null as trial_id, null as site_id,
  place || ' on ' || date || ': lowest ' || printf('%.6g', round(temp_min_c * 9 / 5 + 32)) || ' °F (' || round(temp_min_c, 1) || ' °C), highest '
    || printf('%.6g', round(temp_max_c * 9 / 5 + 32)) || ' °F (' || round(temp_max_c, 1) || ' °C)' as found,
  'a lowest temperature no higher than the highest' as expected,
  'correct the two; until then the air temperature of this day counts as unknown' as mend
from days
where temp_min_c > temp_max_c
