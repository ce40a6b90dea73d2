-- needs: estimates.claims, reports.comparisons
-- One row per claim, stated gain and evidence in the display unit of its crop.
create view reports.claims as
select
  k.position, k.sentence, k.printed_in, k.comparison_id, c.says, c.crop, c.unit, c.digits, k.target, k.only_in,
  k.stated_gain, k.stated_unit, k.stated_kg_ha / c.kg_ha_per_unit as stated, k.verdict, k.estimate_id,
  k.estimate / c.kg_ha_per_unit as estimate, k.conf_low / c.kg_ha_per_unit as conf_low, k.conf_high / c.kg_ha_per_unit as conf_high,
  k.n_site_years, k.n_seasons, k.half_width_wanted / c.kg_ha_per_unit as half_width_wanted, k.more_site_years, k.more_seasons, k.settling
from estimates.claims as k inner join reports.comparisons as c on c.comparison_id = k.comparison_id
order by k.position;
comment on view reports.claims is 'One row per claim in display units';
