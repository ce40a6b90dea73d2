-- needs: estimates.needed, reports.comparisons
-- One row per comparison, target and number of more seasons: site-years needed to show the margin, display unit.
create view reports.needed as
select
  o.comparison_id, c.position, c.says, c.crop, c.unit, c.digits, o.target, o.target = c.declared_target as is_declared,
  o.aim, o.size / c.kg_ha_per_unit as size, o.power, o.n_blocks, o.more_seasons, o.more_site_years, o.reached, o.reason
from estimates.needed as o
inner join reports.comparisons as c on c.comparison_id = o.comparison_id
order by c.position, o.target, o.more_seasons;
comment on view reports.needed is 'One row per number of more seasons';
