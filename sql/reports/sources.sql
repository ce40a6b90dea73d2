-- needs: estimates.arms, trials.plots, raw.current_files, reports.comparisons
-- One row per comparison and plot of its arms: yield in the display unit, fate, and the file, sheet and row it was delivered in.
create view reports.sources as
select
  a.comparison_id, c.position, p.trial_id, p.site_year_id, a.arm, p.treatment_code,
  a.rate_kg_ha, a.rate_kg_ha / 1.120851156194456 as rate_lb_ac, p.block, p.plot,
  p.yield_kg_ha / c.kg_ha_per_unit as yield, c.unit, c.digits, p.fate, p.reason, p.file, p.sheet, p.row_number, f.sha256
from estimates.arms as a
inner join reports.comparisons as c on c.comparison_id = a.comparison_id
inner join trials.plots as p on p.trial_id = a.trial_id and p.treatment_code = a.treatment_code
left join raw.current_files as f on f.file = p.file
order by c.position, p.season, p.trial_id, a.arm, a.rate_kg_ha, p.block, p.plot, p.row_number;
comment on view reports.sources is 'One row per comparison and plot: yield in display units, file, sheet, row and sha256';
