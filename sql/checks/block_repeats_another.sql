-- severity: noted
-- says: no block repeats the weights of another, treatment by treatment: rows may have been copied
-- needs: staging.plots, trials.picked_plots
-- rows of: staging.plots
with all_weighed as (
  select p.trial_id, p.block, p.treatment_code, p.file, p.sheet, p.row_number, p.moisture_pct,
    coalesce(p.harvest_weight_kg, k.harvest_weight_kg, p.yield_kg_ha, p.yield_bu_ac) as weight
  from staging.plots as p left join trials.picked_plots as k on k.trial_id = p.trial_id and k.plot = p.plot
  where p.trial_id is not null and p.block is not null and p.treatment_code is not null
),
-- Blocks that say the same have the same sum, in any order of their rows: what follows looks at few trials.
sums as (
  select trial_id, sum(hash(treatment_code, weight, moisture_pct)) as sum
  from all_weighed where weight is not null group by trial_id, block, file, sheet
),
weighed as (
  select * from all_weighed
  where trial_id in (select trial_id from sums group by trial_id having count(distinct sum) < count(*))
),
-- Weights read in coarse steps may agree by chance. The step is the widest, in kg, lb or lb/ac, of which all are multiples.
steps as (
  select trial_id, max(step) as step
  from (
    select w.trial_id, s.step * u.unit as step
    from weighed as w
    cross join (values (100), (50), (10), (5), (1), (0.5), (0.1), (0.05), (0.01)) as s(step)
    cross join (values (1), (units.kg_per_lb()), (units.kg_ha_per_lb_ac())) as u(unit)
    where w.weight is not null
    group by w.trial_id, s.step, u.unit
    having bool_and(abs(w.weight / (s.step * u.unit) - round(w.weight / (s.step * u.unit))) < 1e-4)
  )
  group by trial_id
),
ranges as (
  select trial_id, max(weight) - min(weight) as range, max(moisture_pct) - min(moisture_pct) as of_moisture
  from weighed group by trial_id, treatment_code having count(weight) > 1
),
-- The chance for two plots of a treatment: of normal errors step / (2 sqrt(pi) sd), where four plots lie about 2 sd apart.
-- Moisture is read to 0.1%.
chances as (
  select trial_id, least(1, 0.57 * s.step / avg(r.range)) * coalesce(least(1, 0.057 / nullif(avg(r.of_moisture), 0)), 1) as of_a_plot
  from steps as s inner join ranges as r using (trial_id)
  group by trial_id, s.step having avg(r.range) > 0
),
blocks as (
  select trial_id, block, file, sheet, min(row_number) as row_number, count(*) as n_plots,
    list_sort(list((treatment_code, weight, moisture_pct))) as said
  from weighed
  where weight is not null
  group by trial_id, block, file, sheet
  having count(distinct weight) >= 3  -- fewer may be alike by chance
),
compared as (
  select *, first_value(block) over alike as first_block, row_number() over alike as turn,
    count(*) over (partition by trial_id) as n_blocks
  from blocks window alike as (partition by trial_id, said order by file, sheet, row_number)
)
select file, sheet, row_number, 'plots' as table_name, 'block' as column_name, trial_id, null as site_id,
  'block ' || block || ' has the weights of block ' || first_block || ' in all ' || n_plots || ' plots' as found,
  'weights of its own' as expected,
  'compare with the field sheet: delete a block that was copied, or write what was harvested there' as mend
from compared left join chances using (trial_id)
where turn > 1 and block <> first_block
  and coalesce(n_blocks * (n_blocks - 1) / 2 * of_a_plot ** n_plots, 0) < 0.01
