-- severity: noted
-- says: summer is warmer than winter on the side of the equator that the latitude names
-- needs: staging.sites, trials.sites, trials.daily_weather
-- rows of: staging.sites
-- only where: abs(t.latitude) > 23.5
with months as (
  select place,
    avg(temp_max_c + temp_min_c) filter (where month(date) in (6, 7, 8)) as june_to_august,
    avg(temp_max_c + temp_min_c) filter (where month(date) in (12, 1, 2, 3)) as december_to_march,
    least(count(temp_max_c + temp_min_c) filter (where month(date) in (6, 7, 8)), count(temp_max_c + temp_min_c) filter (where month(date) in (12, 1, 2, 3))) as n_days
  from trials.daily_weather group by place
)
select s.file, s.sheet, s.row_number, 'sites' as table_name, 'latitude' as column_name, null as trial_id, s.site_id,
  'latitude ' || round(s.latitude, 2) || ', where June to August is ' || case when m.june_to_august > m.december_to_march then 'warmer' else 'colder' end || ' than December to March' as found,
  'a latitude above 0 north of the equator, below 0 south of it' as expected,
  'correct the sign of the latitude, or the dates of the weather' as mend
from staging.sites as s
inner join trials.sites as p on p.site_id = s.site_id
inner join months as m on m.place = p.place
where abs(s.latitude) > 23.5 and m.n_days >= 20 and (s.latitude > 0) = (m.june_to_august < m.december_to_march)
