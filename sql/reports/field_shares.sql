-- needs: estimates.field_shares, reports.comparisons
-- One row per share of fields that gain, by the model, thresholds and spread in the display unit.
create view reports.field_shares as
select
  f.estimate_id, f.comparison_id, c.position, c.says, c.crop, c.unit, c.digits, f.target, f.target = c.declared_target as is_declared, f.above,
  f.threshold / c.kg_ha_per_unit as threshold, f.share, f.tenths, f.tau / c.kg_ha_per_unit as tau,
  f.n_site_years, f.n_seasons, f.reason
from estimates.field_shares as f
inner join reports.comparisons as c on c.comparison_id = f.comparison_id
order by c.position, f.target, f.above;
comment on view reports.field_shares is 'One row per share of fields that gain, in display units';
