-- severity: holds the trial
-- says: every trial's site must be listed in sites
-- needs: staging.trials, staging.sites
select t.file, t.sheet, t.row_number, 'trials' as table_name, 'site_id' as column_name, t.trial_id, t.site_id,
  t.site_id as found, 'a site_id of the sites table' as expected, 'add the site to sites, or correct its name' as mend
from staging.trials as t
where t.site_id is not null and t.site_id not in (select site_id from staging.sites where site_id is not null)
