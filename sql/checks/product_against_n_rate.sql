-- severity: holds the trial
-- says: where both are delivered, the N applied is the product's weight times its percent N, within 2% or 1 lb/ac (1.12 kg/ha)
-- needs: staging.nitrogen_applications, reference.program
-- rows of: staging.nitrogen_applications
-- only where: t.product_rate_kg_ha is not null
select a.file, a.sheet, a.row_number, 'nitrogen_applications' as table_name, 'n_rate, product_rate' as column_name, a.trial_id, null as site_id,
  units.said_n_rate(a.n_rate_kg_ha, p.display_units) || ' given, ' || units.said_n_rate(a.product_rate_kg_ha * a.product_n_pct / 100, p.display_units) || ' in the product' as found,
  'the same N both ways' as expected, 'correct one of them, or leave one of the two columns empty' as mend
from staging.nitrogen_applications as a cross join reference.program as p
where abs(a.n_rate_kg_ha - a.product_rate_kg_ha * a.product_n_pct / 100) > 1.000001 * greatest(0.02 * a.n_rate_kg_ha, units.kg_ha_per_lb_ac())
