-- severity: noted
-- says: each place has rain of enough reference years, without which its site-years are not classed dry, normal or wet
-- may follow from an unread file: of any folder
-- needs: trials.trials, trials.window_rainfall, trials.reference_rainfall, reference.rainfall_windows
-- rows of: trials.window_rainfall
with years as (
  select place, crop, count(*) as n_years from trials.reference_rainfall group by place, crop
),
-- one finding per place, where its first trial stands; of no trial, so that none is left out as one with findings
places as (
  select t.place, t.crop, arg_min((t.file, t.sheet, t.row_number, t.site_id), (t.season, t.trial_id)) as first
  from trials.trials as t
  semi join trials.window_rainfall as w on w.site_year_id = t.site_year_id and w.crop = t.crop
  where t.status <> 'planned'
  group by t.place, t.crop
)
select p.first[1] as file, p.first[2] as sheet, p.first[3] as row_number, 'trials' as table_name, 'site_id' as column_name,
  null as trial_id, p.first[4] as site_id,
  'rain of ' || coalesce(y.n_years, 0) || ' years from ' || w.first_year || ' to ' || w.last_year || ' at ' || p.place as found,
  'rain of ' || w.fewest_years || ' of these years at least, to class its seasons dry, normal or wet' as expected,
  'deliver the rain of these years in rain_history' as mend
from places as p
inner join reference.rainfall_windows as w on w.crop = p.crop
left join years as y on y.place = p.place and y.crop = p.crop
where coalesce(y.n_years, 0) < w.fewest_years
