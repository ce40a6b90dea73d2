-- needs: trials.trials, trials.rainfall_classes
-- One row per site-year and crop: where the estimates generalise from, with its classes.
create table trials.site_years as
select
  t.site_year_id, t.place, t.season, t.crop,
  case when count(distinct coalesce(t.drainage_group, '')) = 1 then min(t.drainage_group) end as drainage_group,
  string_agg(distinct t.drainage_class, ', ' order by t.drainage_class) as drainage_classes,
  min(r.rainfall_class) as rainfall_class, min(r.spi) as spi, min(r.rain_mm) as rain_mm, min(r.normal_mm) as normal_mm,
  bool_or(r.near_cut) as near_cut, min(r.reason) as rainfall_reason,
  count(*) as n_trials,
  count(*) filter (where t.status = 'accepted') as n_accepted,
  count(*) filter (where t.status = 'planned') as n_planned
from trials.trials as t
left join trials.rainfall_classes as r on r.site_year_id = t.site_year_id and r.crop = t.crop
where t.site_year_id is not null
group by t.site_year_id, t.place, t.season, t.crop
order by t.crop, t.season, t.place;
comment on table trials.site_years is 'One row per site-year and crop with drainage group and rainfall class';
