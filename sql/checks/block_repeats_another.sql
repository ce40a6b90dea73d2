-- severity: noted
-- says: no block repeats the weights of another, treatment by treatment: rows may have been copied
-- needs: staging.plots
-- rows of: staging.plots
with weighed as (
  select *, coalesce(harvest_weight_kg, yield_kg_ha, yield_bu_ac) as weight from staging.plots
),
blocks as (
  select trial_id, block, file, sheet, min(row_number) as row_number, count(*) as n_plots,
    list_sort(list((treatment_code, weight, moisture_pct))) as said
  from weighed
  where trial_id is not null and block is not null and treatment_code is not null and weight is not null
  group by trial_id, block, file, sheet
  having count(distinct weight) >= 3  -- fewer may be alike by chance
),
compared as (
  select *, first_value(block) over alike as first_block, row_number() over alike as turn
  from blocks window alike as (partition by trial_id, said order by file, sheet, row_number)
)
select file, sheet, row_number, 'plots' as table_name, 'block' as column_name, trial_id, null as site_id,
  'block ' || block || ' has the weights of block ' || first_block || ' in all ' || n_plots || ' plots' as found,
  'weights of its own' as expected,
  'compare with the field sheet: delete a block that was copied, or write what was harvested there' as mend
from compared where turn > 1 and block <> first_block
