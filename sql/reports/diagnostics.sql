-- needs: estimates.diagnostics, reports.comparisons, trials.site_years
-- One row per residual of a site-year or block in the display unit.
create view reports.diagnostics as
select
  d.comparison_id, c.position, c.crop, c.unit, c.digits, d.kind, d.site_year_id, s.place, s.season, d.trial_id, d.block,
  d.residual / c.kg_ha_per_unit as residual, d.standardized, d.normal_quantile
from estimates.diagnostics as d
inner join reports.comparisons as c on c.comparison_id = d.comparison_id
left join trials.site_years as s on s.site_year_id = d.site_year_id and s.crop = c.crop
order by c.position, d.kind, s.season, s.place, d.trial_id, d.block;
comment on view reports.diagnostics is 'One row per residual in display units';
