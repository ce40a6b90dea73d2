-- needs: estimates.trait_gains, reports.comparisons
-- One row per other trait, comparison and target: the average difference in the unit the trait is stored in.
create view reports.trait_gains as
select
  t.comparison_id, c.position, c.says, c.crop, t.trait, t.unit, t.target, t.target = c.declared_target as is_declared,
  t.estimate, t.conf_level, t.conf_low, t.conf_high, t.n_site_years, t.n_seasons, t.shown_as, t.method, t.rule, t.warnings
from estimates.trait_gains as t
inner join reports.comparisons as c on c.comparison_id = t.comparison_id
order by c.position, t.trait, t.target;
comment on view reports.trait_gains is 'One row per average difference in another trait';
