-- severity: noted
-- says: a site has its drainage class; without it the site-year counts in averages and not in the breakdown by drainage
-- needs: staging.sites
-- rows of: staging.sites
-- only where: t.drainage_class is null
select file, sheet, row_number, 'sites' as table_name, 'drainage_class' as column_name, null as trial_id, site_id,
  '(empty)' as found, 'the natural drainage class of the soil' as expected,
  'read it from an on-site description or the soil survey and fill it in' as mend
from staging.sites as s
where drainage_class is null
  and not exists (select 1 from staging.sites as o where o.site_id = s.site_id and o.drainage_class is not null)
