-- needs: staging.sites, reference.drainage_classes, trials.place_names
-- One row per site, as last described (latest season first), with its drainage group. An empty drainage class says nothing:
-- then that of the last delivery which has one holds. A number beyond its hard range, as a latitude that is none on earth, is not known.
create table trials.sites as
with described as (
  select *,
    row_number() over (partition by site_id order by file desc, row_number) as turn,
    row_number() over (partition by site_id order by drainage_class is null, file desc, row_number) as drainage_turn
  from staging.sites where site_id is not null
)
select s.site_id, n.place, n.place_key, k.drainage_class, d.drainage_group, d.group_label, k.drainage_source, s.texture, known.organic_matter_pct(s.organic_matter_pct) as organic_matter_pct,
  known.latitude(s.latitude) as latitude, known.longitude(s.longitude) as longitude
from described as s
inner join described as k on k.site_id = s.site_id and k.drainage_turn = 1
left join reference.drainage_classes as d on d.word = k.drainage_class
left join trials.place_names as n on n.name = lower(s.place)
where s.turn = 1
order by s.site_id;
comment on table trials.sites is 'One row per site: place, drainage class and group';
