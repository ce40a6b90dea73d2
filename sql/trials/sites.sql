-- needs: staging.sites, reference.drainage_classes, trials.place_names
-- One row per site, as last described (latest season first), with its drainage group.
create table trials.sites as
select s.site_id, n.place, n.place_key, s.drainage_class, d.drainage_group, d.group_label, s.drainage_source, s.texture, s.organic_matter_pct, s.latitude, s.longitude
from staging.sites as s
left join reference.drainage_classes as d on d.word = s.drainage_class
left join trials.place_names as n on n.name = lower(s.place)
where s.site_id is not null
qualify row_number() over (partition by s.site_id order by s.file desc, s.row_number) = 1
order by s.site_id;
comment on table trials.sites is 'One row per site: place, drainage class and group';
