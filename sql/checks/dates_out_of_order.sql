-- severity: noted
-- says: planting comes before harvest, in the season or the year before; harvest is in the season or the year after
-- needs: staging.trials
-- rows of: staging.trials
-- only where: t.planted >= t.harvested or year(t.harvested) - t.season not in (0, 1) or year(t.planted) - t.season not in (-1, 0)
select file, sheet, row_number, 'trials' as table_name, 'planted, harvested' as column_name, trial_id, site_id,
  coalesce(cast(planted as varchar), '(empty)') || ' to ' || coalesce(cast(harvested as varchar), '(empty)') as found,
  'planted before harvested, both in the season' as expected, 'a day-month swap or a wrong year? correct it' as mend
from staging.trials
where planted >= harvested or year(harvested) - season not in (0, 1) or year(planted) - season not in (-1, 0)
