-- needs: trials.trials, estimates.trial_analyses, reference.display_units, trials.plots
-- One row per trial with its own precision in the display unit.
-- Where zero-N is needed for any error (one fertilized treatment beside it), its plots are in it.
create view reports.trials as
with own_analyses as (
  select * from estimates.trial_analyses
  qualify row_number() over (partition by trial_id order by lsd_5pct is null, zero_n_in_error) = 1
)
select
  t.trial_id, t.site_year_id, t.place, t.site_id, t.season, t.crop, t.design, t.status, t.status_reason,
  t.drainage_class, t.drainage_group, t.artificial_drainage, t.texture, t.irrigated, t.previous_crop, t.tillage, t.cultivar,
  t.planted, t.harvested, t.cooperator, t.paid_by, t.product_given_by,
  u.unit, u.digits,
  a.n_plots, a.n_blocks, a.n_treatments, a.cv_pct, a.lsd_5pct / u.kg_ha_per_unit as lsd_5pct,
  a.lsd_5pct_largest / u.kg_ha_per_unit as lsd_5pct_largest, a.mean / u.kg_ha_per_unit as mean, a.no_error_reason,
  a.subplots_per_main_plot,
  (select count(*) from trials.plots as p where p.trial_id = t.trial_id) as n_plots_delivered,
  (select count(*) from trials.plots as p where p.trial_id = t.trial_id and p.fate = 'used') as n_plots_used,
  t.file
from trials.trials as t
left join own_analyses as a on a.trial_id = t.trial_id
left join reference.display_units as u on u.crop = t.crop
order by t.season, t.place, t.crop;
comment on view reports.trials is 'One row per trial in display units';
