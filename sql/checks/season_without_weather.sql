-- severity: noted
-- says: rain is known on all but a few days of the window in which a site-year is classed
-- may follow from an unread file: of any folder
-- needs: trials.window_rainfall, trials.trials
-- rows of: trials.window_rainfall
-- only where: t.n_days_missing > 0
select t.file, t.sheet, t.row_number, 'trials' as table_name, 'site_id' as column_name, t.trial_id, t.site_id,
  w.n_days_missing || ' of ' || w.n_days || ' days without rain data' as found,
  'daily rain at ' || w.place || ' from ' || w.window_from || ' to ' || w.window_to as expected,
  'deliver the missing days in weather_daily' as mend
from trials.window_rainfall as w inner join trials.trials as t on t.site_year_id = w.site_year_id and t.crop = w.crop
where w.n_days_missing > 0 and t.status <> 'planned'
