-- needs: estimates.claims, reports.comparisons, reference.covariate_display_units
-- One row per claim: stated gain and evidence in the display unit of its crop, as a ratio, or in money per acre.
create view reports.claims as
select
  k.position, k.sentence, k.printed_in, k.comparison_id, c.says, c.crop, s.unit, s.digits, k.target, k.only_in, k.weather, k.states,
  k.stated_gain, k.stated_unit, k.stated / s.size as stated, k.verdict, k.estimate_id,
  k.estimate / s.size as estimate, k.conf_low / s.size as conf_low, k.conf_high / s.size as conf_high,
  k.n_site_years, k.n_seasons, k.half_width_wanted / s.size as half_width_wanted, k.more_site_years, k.more_seasons, k.settling,
  c.declared, c.first_harvest, c.known_by, c.first_printed, c.is_late
from estimates.claims as k
inner join reports.comparisons as c on c.comparison_id = k.comparison_id
left join reference.covariate_display_units as w on k.evidence_unit = 'kg/ha per ' || w.stored
cross join lateral (
  select
    case when w.stored is not null then c.unit || ' per ' || w.per
      when coalesce(k.evidence_unit, 'kg/ha') = 'kg/ha' then c.unit else k.evidence_unit end as unit,
    case when w.stored is not null then c.kg_ha_per_unit / (w.size * w.step)
      when coalesce(k.evidence_unit, 'kg/ha') = 'kg/ha' then c.kg_ha_per_unit else 1.0 end as size,
    case when w.stored is not null then greatest(c.digits, 1)
      else case coalesce(k.evidence_unit, 'kg/ha') when 'ratio' then 3 when 'kg/ha' then c.digits else 2 end end as digits
) as s
order by k.position;
comment on view reports.claims is 'One row per claim in display units';
