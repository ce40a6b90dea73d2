-- severity: noted
-- says: in a complete block design every treatment is in every block
-- may follow from an unread file: of its folder
-- needs: staging.plots, staging.trials, staging.treatments
with designs as (
  select distinct trial_id from staging.trials where design in ('RCBD', 'split-plot', 'Latin square')
),
blocks as (select p.trial_id, p.block, min(p.file) as file, min(p.sheet) as sheet, min(p.row_number) as row_number from staging.plots as p where p.block is not null group by p.trial_id, p.block),
codes as (select distinct trial_id, treatment_code from staging.treatments where treatment_code is not null),
expected as (
  select b.trial_id, b.block, b.file, b.sheet, b.row_number, c.treatment_code
  from blocks as b inner join designs using (trial_id) inner join codes as c using (trial_id)
)
select e.file, e.sheet, min(e.row_number) as row_number, 'plots' as table_name, 'treatment_code' as column_name, e.trial_id, null as site_id,
  'block ' || e.block || ' without ' || string_agg(e.treatment_code, ', ' order by e.treatment_code) as found,
  'every treatment in every block' as expected, 'deliver the missing plots, also lost ones with their cause' as mend
from expected as e
left join staging.plots as p on p.trial_id = e.trial_id and p.block = e.block and p.treatment_code = e.treatment_code
where p.trial_id is null
group by e.trial_id, e.block, e.file, e.sheet
