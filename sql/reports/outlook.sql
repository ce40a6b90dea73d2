-- needs: estimates.outlook, reports.comparisons
-- One row per comparison, target and choice of more site-years, blocks and seasons: half-width to expect, display unit.
create view reports.outlook as
select
  o.comparison_id, c.position, c.says, c.crop, c.unit, c.digits, o.target, o.target = c.declared_target as is_declared,
  o.more_site_years, o.n_blocks, o.more_seasons, o.n_site_years, o.n_places, o.n_seasons, o.df, o.half_width / c.kg_ha_per_unit as half_width, o.reason
from estimates.outlook as o
inner join reports.comparisons as c on c.comparison_id = o.comparison_id
order by c.position, o.target, o.more_seasons, o.more_site_years, o.n_blocks;
comment on view reports.outlook is 'One row per choice of more site-years, blocks and seasons';
