-- needs: estimates.noninferiority, reports.comparisons, estimates.settings_changes
-- One row per comparison with a margin and target: the test in the display unit (ratios stay ratios).
create view reports.as_good as
select
  n.estimate_id, n.comparison_id, c.position, c.says, c.crop, c.question, n.target, n.target = c.declared_target as is_declared, n.scale,
  case n.scale when 'ratio' then 'ratio' else c.unit end as unit, case n.scale when 'ratio' then 3 else c.digits end as digits,
  n.estimate / s.size as estimate, n.std_error / s.size as std_error, n.df, n.margin / s.size as margin, n.margin_limit / s.size as margin_limit, n.margin_basis, n.margin_fixed_on, n.margin_is_late,
  w.before as margin_before, w.until_day as margin_until,
  n.lower_limit / s.size as lower_limit, n.upper_limit / s.size as upper_limit, n.p_noninferior, n.p_superior,
  n.tost_low / s.size as tost_low, n.tost_high / s.size as tost_high, n.p_tost, n.is_equivalent, n.alpha, n.tost_alpha,
  n.verdict, n.reason, n.assay_sensitivity, n.assay_reason, n.assay_n_site_years, n.assay_estimate / s.size as assay_estimate,
  n.assay_low / s.size as assay_low,
  n.economic_margin_kg_ha / c.kg_ha_per_unit as economic_margin, c.unit as economic_unit, c.digits as economic_digits,
  n.economic_margin_kg_ha, n.economic_says, n.n_site_years, n.n_seasons, n.n_without_ratio, n.method
from estimates.noninferiority as n
inner join reports.comparisons as c on c.comparison_id = n.comparison_id
left join estimates.settings_changes as w on w.comparison_id = n.comparison_id and w.key = 'noninferiority: margin'
cross join lateral (select case n.scale when 'ratio' then 1.0 else c.kg_ha_per_unit end as size) as s
order by c.position, n.target;
comment on view reports.as_good is 'One row per non-inferiority test in display units';
