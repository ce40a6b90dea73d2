-- needs: estimates.run_changes, estimates.runs, estimates.comparisons, reference.display_units
-- One row per run, headline and cause of change, in the display unit, newest run first.
create view reports.changes as
select
  r.started, c.run_id, k.position, c.comparison_id, k.crop, c.target, c.position as step, c.cause,
  c.before / u.kg_ha_per_unit as before, c.after / u.kg_ha_per_unit as after, c.n_before, c.n_after,
  c.n_seasons_before, c.n_seasons_after, c.method_before, c.method_after, u.unit, u.digits,
  c.conf_low_before / u.kg_ha_per_unit as conf_low_before, c.conf_high_before / u.kg_ha_per_unit as conf_high_before,
  c.conf_low_after / u.kg_ha_per_unit as conf_low_after, c.conf_high_after / u.kg_ha_per_unit as conf_high_after,
  c.before as before_kg_ha, c.after as after_kg_ha
from estimates.run_changes as c
inner join estimates.runs as r on r.run_id = c.run_id
inner join estimates.comparisons as k on k.comparison_id = c.comparison_id
inner join reference.display_units as u on u.crop = k.crop
order by r.rowid desc, k.position, c.target, c.position;
comment on view reports.changes is 'One row per run, headline and cause of change';
