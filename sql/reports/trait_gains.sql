-- needs: estimates.trait_gains, reports.comparisons, reference.trait_display_units
-- One row per other trait, comparison and target: the average difference in the display unit of the trait.
create view reports.trait_gains as
select
  t.estimate_id, t.comparison_id, c.position, c.says, c.crop, t.trait, s.unit, s.digits, t.target, t.target = c.declared_target as is_declared,
  t.estimate / s.size as estimate, t.conf_level, t.conf_low / s.size as conf_low, t.conf_high / s.size as conf_high,
  t.estimate as estimate_stored, t.unit as unit_stored, t.n_site_years, t.n_seasons, t.shown_as, t.method, t.formula, t.rule, t.warnings
from estimates.trait_gains as t
inner join reports.comparisons as c on c.comparison_id = t.comparison_id
inner join reference.trait_display_units as s on s.stored = t.unit
order by c.position, t.trait, t.target;
comment on view reports.trait_gains is 'One row per average difference in another trait';
