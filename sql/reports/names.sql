-- needs: staging.trials, staging.sites, staging.weather_daily, staging.rain_history, reference.corrections, reference.manifest, trials.place_names
-- One row per name that publishing may have to hide: of a person, or of a place, a site or a trial. It is never published.
create view reports.names as
with said as (
  select 'person' as kind, cooperator as name, null as stands_for from staging.trials
  union all
  select 'person', who, null from reference.corrections
  union all
  select 'person', sender, null from reference.manifest
  union all
  select 'site', site_id, site_id from staging.sites
  union all
  select 'site', site_id, site_id from staging.trials
  union all
  select 'trial', trial_id, trial_id from staging.trials
  union all
  select 'place', name, place from trials.place_names
  union all
  select 'place', p.place, coalesce(n.place, p.place)
  from (
    select place from staging.sites union select place from staging.weather_daily union select place from staging.rain_history
  ) as p
  left join trials.place_names as n on n.name = lower(p.place)
)
select distinct kind, trim(name) as name, stands_for from said where trim(name) <> '' order by kind, name, stands_for;
comment on view reports.names is 'One row per name that publishing may hide';
