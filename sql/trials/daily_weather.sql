-- needs: trials.weather_rows
-- One row per place and day with anything known: of each quantity what counts first, and the turn of the row that gave the rain.
create table trials.daily_weather as
select
  place, date,
  arg_min(rain_mm, turn) as rain_mm, arg_min(temp_max_c, turn) as temp_max_c, arg_min(temp_min_c, turn) as temp_min_c,
  arg_min(soil_temp_c, turn) as soil_temp_c, min(turn) filter (rain_mm is not null) as rain_turn
from trials.weather_rows
group by place, date
having count(rain_mm) + count(temp_max_c) + count(soil_temp_c) > 0
order by place, date;
comment on table trials.daily_weather is 'One row per place and day: rain (mm), air and soil temperature (C)';
