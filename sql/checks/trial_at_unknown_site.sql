-- severity: holds the trial
-- says: every trial's site must be listed in sites
-- may follow from an unread file: of any folder
-- needs: staging.trials, staging.sites
with nearest as (
  select t.site_id, arg_max(s.site_id, (jaro_winkler_similarity(lower(regexp_replace(s.site_id, '[^a-zA-Z0-9]', '', 'g')), lower(regexp_replace(t.site_id, '[^a-zA-Z0-9]', '', 'g'))), s.site_id)) as site, max(jaro_winkler_similarity(lower(regexp_replace(s.site_id, '[^a-zA-Z0-9]', '', 'g')), lower(regexp_replace(t.site_id, '[^a-zA-Z0-9]', '', 'g')))) as likeness
  from (select distinct site_id from staging.trials where site_id is not null) as t
  cross join (select distinct site_id from staging.sites where site_id is not null) as s
  group by t.site_id
)
select t.file, t.sheet, t.row_number, 'trials' as table_name, 'site_id' as column_name, t.trial_id, t.site_id,
  t.site_id as found, 'a site_id of the sites table' as expected,
  case when n.likeness >= 0.85 then 'nearest known site: "' || n.site || '"; correct the name, or put into headings.yml: words: {trials: {site_id: {"' || t.site_id || '": "' || n.site || '"}}}'
    else 'add the site to sites, or correct its name' end as mend
from staging.trials as t left join nearest as n on n.site_id = t.site_id
where t.site_id is not null and t.site_id not in (select site_id from staging.sites where site_id is not null)
