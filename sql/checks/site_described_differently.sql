-- severity: holds the trial
-- says: a site keeps its place and its drainage class in all deliveries; an empty class says nothing
-- needs: staging.sites
select s.file, s.sheet, s.row_number, 'sites' as table_name, 'place, drainage_class' as column_name, null as trial_id, s.site_id,
  coalesce(s.place, '') || ', ' || coalesce(s.drainage_class, '') as found,
  coalesce(o.place, '') || ', ' || coalesce(o.drainage_class, '') || ', as ' || o.file || ' row ' || o.row_number || ' says' as expected,
  'correct the wrong one' || case
    when o.drainage_class <> s.drainage_class then '; the natural drainage class does not change with tile or ditches' else '' end || case
    when o.place <> s.place and (o.file, o.row_number) < (s.file, s.row_number)
      then '; or, if they are one place, put into headings.yml: words: {sites: {place: ' || k.pair || '}, weather_daily: {place: ' || k.pair || '}}' else '' end as mend
from staging.sites as s
inner join staging.sites as o on o.site_id = s.site_id and (o.place <> s.place or o.drainage_class <> s.drainage_class)
cross join lateral (select '{"' || s.place || '": "' || o.place || '"}' as pair) as k
