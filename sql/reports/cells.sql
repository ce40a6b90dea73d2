-- needs: estimates.site_year_gains, reports.comparisons
-- One row per comparison and drainage x rainfall cell: how many site-years and seasons it holds.
create view reports.cells as
select
  g.comparison_id, c.position, c.crop, g.drainage_group, g.rainfall_class,
  count(*) as n_site_years, count(distinct g.season) as n_seasons,
  string_agg(distinct cast(g.season as varchar), ', ' order by cast(g.season as varchar)) as seasons
from estimates.site_year_gains as g inner join reports.comparisons as c on c.comparison_id = g.comparison_id
where g.is_pooled
group by g.comparison_id, c.position, c.crop, g.drainage_group, g.rainfall_class
order by c.position, g.drainage_group, g.rainfall_class;
comment on view reports.cells is 'One row per drainage x rainfall cell';
