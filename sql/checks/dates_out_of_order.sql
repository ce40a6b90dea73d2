-- severity: noted
-- says: planting comes before harvest, in the season or the year before; harvest is in the season or the year after
-- needs: staging.trials
-- rows of: staging.trials
-- only where: t.planted >= t.harvested or year(t.harvested) not in (t.season, t.season + 1) or year(t.planted) not in (t.season - 1, t.season)
select file, sheet, row_number, 'trials' as table_name, 'planted, harvested' as column_name, trial_id, site_id,
  coalesce(cast(planted as varchar), '(empty)') || ' to ' || coalesce(cast(harvested as varchar), '(empty)') as found,
  'planted before harvested, both in the season' as expected, 'a day-month swap or a wrong year? correct it' as mend
from staging.trials
where planted >= harvested or year(harvested) not in (season, season + 1) or year(planted) not in (season - 1, season)
