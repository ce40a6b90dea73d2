-- needs: staging.trials, staging.sites, staging.weather_daily, staging.rain_history, reference.corrections, reference.manifest, reference.correction_changes, reference.correction_conditions, reference.senders_words, trials.place_names
-- One row per name that publishing may have to hide: of a person, or of a place, a site or a trial. It is never published.
create view reports.names as
-- what a correction or headings.yml puts something else in the place of, or finds a row by
with replaced as (
  select heading, unnest([old, new]) as text from reference.correction_changes
  union all
  select heading, text from reference.correction_conditions
  union all
  select heading, theirs from reference.senders_words
),
called as (
  select heading, text from replaced where heading in ('cooperator', 'site_id', 'trial_id', 'place')
  union all
  select 'place', unnest(string_split(text, ';')) from replaced where heading = 'also_called'
),
said as (
  select
    case heading when 'cooperator' then 'person' when 'site_id' then 'site' when 'trial_id' then 'trial' else 'place' end as kind,
    text as name, case when heading = 'place' then coalesce(n.place, trim(text)) when heading <> 'cooperator' then trim(text) end as stands_for
  from called left join trials.place_names as n on n.name = lower(trim(text))
  union all
  select 'person', cooperator, null from staging.trials
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
