-- needs: trials.weather_rows
-- One row per place and day with a known rain, with the row it was delivered in; a blank day is simply not here.
create table trials.weather_days as
select place, date, rain_mm, file, sheet, row_number
from trials.weather_rows
where rain_mm is not null
qualify row_number() over (partition by place, date order by turn) = 1
order by place, date;
comment on table trials.weather_days is 'One row per place and day with known rain (mm)';
