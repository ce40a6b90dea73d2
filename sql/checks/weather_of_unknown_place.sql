-- severity: noted
-- says: weather belongs to a place of the sites table
-- may follow from an unread file: of any folder
-- needs: staging.weather_daily, staging.rain_history, trials.place_names
with places as (
  select file, sheet, 'weather_daily' as table_name, place, min(row_number) as row_number, count(*) as n from staging.weather_daily where place is not null group by file, sheet, place
  union all
  select file, sheet, 'rain_history', place, min(row_number), count(*) from staging.rain_history where place is not null group by file, sheet, place
)
select p.file, p.sheet, p.row_number, p.table_name, 'place' as column_name, null as trial_id, null as site_id,
  p.place || ' (' || p.n || case p.n when 1 then ' day)' else ' days)' end as found, 'a place of the sites table' as expected,
  'correct the name, or write it under also_called of its site and of no other' as mend
from places as p where lower(p.place) not in (select name from trials.place_names)
