-- severity: holds the trial
-- says: the treatment part of the applications adds up to the planned rate, within 2% or 1 lb/ac (1.12 kg/ha)
-- may follow from an unread file: of its folder
-- needs: staging.nitrogen_applications, staging.treatments, staging.repeats, reference.program
with once as (
  select a.*
  from staging.nitrogen_applications as a
  anti join (select * from staging.repeats where table_name = 'nitrogen_applications') as r
    on r.file = a.file and r.sheet is not distinct from a.sheet and r.row_number = a.row_number
),
applied as (
  select trial_id, treatment_code, sum(n_rate_kg_ha) as applied_kg_ha, max(product_n_pct) as product_n_pct, count(*) as n_applications
  from once
  where counts_toward = 'treatment'
  group by trial_id, treatment_code
),
-- told already: two rows of one application, of which one may correct the other
told_twice as (
  select trial_id, treatment_code from once group by trial_id, treatment_code, application having count(*) > 1
),
with_applications as (select distinct trial_id from staging.nitrogen_applications)
select t.file, t.sheet, t.row_number, 'treatments' as table_name, 'n_rate' as column_name, t.trial_id, null as site_id,
  t.treatment_code || ': ' || units.said_n_rate(coalesce(a.applied_kg_ha, 0), d.display_units) || ' applied, ' ||
    units.said_n_rate(t.n_rate_kg_ha, d.display_units) || ' planned' as found,
  'applications that add up to the planned treatment N' as expected,
  case
    when a.n_applications = 1 and abs(a.applied_kg_ha * a.product_n_pct / 100 - t.n_rate_kg_ha) < 0.03 * t.n_rate_kg_ha
      then 'looks like the weight of the product (' || a.product_n_pct || '% N) typed as the weight of its N; correct the application'
    else 'correct the applications or the planned rate; the weight of a product is not the weight of its N'
  end as mend
from staging.treatments as t cross join reference.program as d
inner join with_applications as w on w.trial_id = t.trial_id
left join applied as a on a.trial_id = t.trial_id and a.treatment_code = t.treatment_code
anti join told_twice as twice on twice.trial_id = t.trial_id and twice.treatment_code = t.treatment_code
where t.n_rate_kg_ha is not null and t.treatment_code is not null
  -- one part in a million keeps a difference of exactly 2% or 1 lb/ac inside after its unit was converted
  and abs(coalesce(a.applied_kg_ha, 0) - t.n_rate_kg_ha) > 1.000001 * greatest(0.02 * t.n_rate_kg_ha, units.kg_ha_per_lb_ac())
