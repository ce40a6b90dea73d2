-- needs: estimates.site_year_optima, reference.n_unit
-- One row per crop, family and model: what became of its site-year curves, optimum rates in the display unit.
create view reports.site_year_optima as
select
  o.* exclude (mean_aonr, aonr_low, aonr_high, mean_eonr, eonr_low, eonr_high), n.n_unit,
  o.mean_aonr / n.kg_ha_per_n_unit as mean_aonr, o.aonr_low / n.kg_ha_per_n_unit as aonr_low, o.aonr_high / n.kg_ha_per_n_unit as aonr_high,
  o.mean_eonr / n.kg_ha_per_n_unit as mean_eonr, o.eonr_low / n.kg_ha_per_n_unit as eonr_low, o.eonr_high / n.kg_ha_per_n_unit as eonr_high
from estimates.site_year_optima as o
cross join reference.n_unit as n
order by o.crop, o.family, o.model;
comment on view reports.site_year_optima is 'One row per family: its site-year optimum rates';
