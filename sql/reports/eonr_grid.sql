-- needs: estimates.eonr_grid, reference.display_units, reference.n_unit
-- One row per family and price ratio: economic optimum rate of the common curve; price_ratio is money per lb (or kg) N over money per display unit.
create view reports.eonr_grid as
select
  g.crop, g.family, g.model, g.price_ratio * n.kg_ha_per_n_unit / u.kg_ha_per_unit as price_ratio, g.is_planning_ratio, g.flag, u.unit, n.n_unit,
  g.eonr / n.kg_ha_per_n_unit as eonr, g.eonr_low / n.kg_ha_per_n_unit as eonr_low, g.eonr_high / n.kg_ha_per_n_unit as eonr_high
from estimates.eonr_grid as g
inner join reference.display_units as u on u.crop = g.crop
cross join reference.n_unit as n
where g.level = 'pooled'
order by g.crop, g.family, g.price_ratio;
comment on view reports.eonr_grid is 'One row per family and price ratio: economic optimum N rate';
