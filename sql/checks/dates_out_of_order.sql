-- severity: noted
-- says: planting comes before harvest, and harvest is in the season
-- needs: staging.trials
-- rows of: staging.trials
-- only where: t.planted >= t.harvested or year(t.harvested) not in (t.season, t.season + 1)
select file, sheet, row_number, 'trials' as table_name, 'planted, harvested' as column_name, trial_id, site_id,
  coalesce(cast(planted as varchar), '') || ' to ' || coalesce(cast(harvested as varchar), '') as found,
  'planted before harvested, harvested in the season' as expected, 'a day-month swap or a wrong year? correct it' as mend
from staging.trials
where planted >= harvested or year(harvested) not in (season, season + 1)
