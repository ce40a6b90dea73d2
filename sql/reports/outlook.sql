-- needs: estimates.outlook, estimates.pooled_gains, reports.comparisons
-- One row per comparison, target and choice of more site-years, blocks and seasons: half-width to expect, and that of the printed interval, display unit.
create view reports.outlook as
select
  o.comparison_id, c.position, c.says, c.crop, c.unit, c.digits, o.target, o.target = c.declared_target as is_declared,
  o.more_site_years, o.n_blocks, o.more_seasons, o.n_site_years, o.n_places, o.n_seasons, o.df, o.half_width / c.kg_ha_per_unit as half_width,
  (g.conf_high - g.conf_low) / 2 / c.kg_ha_per_unit as printed_half_width, o.reason
from estimates.outlook as o
inner join reports.comparisons as c on c.comparison_id = o.comparison_id
left join estimates.pooled_gains as g
  on g.comparison_id = o.comparison_id and g.target = o.target and g.is_headline and g.moderator = 'all'
order by c.position, o.target, o.more_seasons, o.more_site_years, o.n_blocks;
comment on view reports.outlook is 'One row per choice of more site-years, blocks and seasons';
