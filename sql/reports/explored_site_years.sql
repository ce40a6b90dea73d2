-- needs: estimates.explored_site_years, reports.comparisons, reports.site_year_gains
-- One row per class of an exploratory breakdown and site-year in it, in the display unit.
create view reports.explored_site_years as
select
  s.comparison_id, c.position, c.crop, c.unit, c.digits, s.moderator, s.level, s.site_year_id, s.place, s.season,
  case when s.moderator = 'N rate' then cast(s.level as double) end as rate_kg_ha,
  s.gain / c.kg_ha_per_unit as gain, s.std_error / c.kg_ha_per_unit as std_error, s.n_blocks, s.n_plots, g.lacks_rates, g.warnings
from estimates.explored_site_years as s
inner join reports.comparisons as c on c.comparison_id = s.comparison_id
left join reports.site_year_gains as g
  on g.comparison_id = s.comparison_id and g.site_year_id = s.site_year_id and s.moderator <> 'N rate'  -- that one is of its plots alone
order by c.position, s.moderator, rate_kg_ha, s.level, s.season, s.place;
comment on view reports.explored_site_years is 'One row per class of an exploratory breakdown and site-year in it, in display units';
