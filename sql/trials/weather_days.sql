-- needs: trials.weather_rows, trials.daily_weather
-- One row per place and day with a known rain, with the row it was delivered in; a blank day is simply not here.
create table trials.weather_days as
with files as (select distinct turn // 4294967296 as position, file, sheet from trials.weather_rows)
select d.place, d.date, d.rain_mm, f.file, f.sheet, d.rain_turn % 4294967296 as row_number
from trials.daily_weather as d
inner join files as f on f.position = d.rain_turn // 4294967296
where d.rain_mm is not null
order by d.place, d.date;
comment on table trials.weather_days is 'One row per place and day with known rain (mm)';
